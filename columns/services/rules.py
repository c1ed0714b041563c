"""The lab's metrological rules and each person's repeatability."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from columns import audit_actions as actions
from columns.models import LabRules, ReaderRepeatability
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.accounts.services import system_user
from labsite.audit.services import change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import RuleViolation
from labsite.reasons import require_reason

# One row: two processes that set it up at the same time clash on its id.
RULES_ID = uuid.UUID(int=1)
LIMITS = {
    "calibration_max_age_hours": (1, 72),
    "minimum_floats": (2, 30),
    "pass_hold_off_hours": (0, 168),
    "settling_minimum_hours": (0, 336),
    "settling_agreement_mm": (Decimal("0.1"), Decimal(20)),
    "height_repeatability_mm": (Decimal("0.01"), Decimal(10)),
    "late_entry_minutes": (1, 1440),
}


def set_up_lab_rules(*, clock: Clock = SYSTEM_CLOCK) -> LabRules:
    """The row of rules, made with its defaults when it is not there yet."""
    try:
        with transaction.atomic(), change(actor=system_user(clock=clock), clock=clock) as log:
            return log.add(LabRules(id=RULES_ID), actions.RULES_SET_UP)
    except IntegrityError:
        return LabRules.objects.get()


def change_lab_rules(
    *, actor: User, rules: LabRules, reason: str, clock: Clock = SYSTEM_CLOCK, **fields: Any
) -> LabRules:
    """Change rules from now on; what was computed keeps the rules of its day.

    Raises RuleViolation for a figure outside its sensible range, or without a reason.
    """
    require(actor, Action.MANAGE_RULES)
    reason = require_reason(reason)
    wrong = {
        name: [_("from %(low)s to %(high)s") % {"low": low, "high": high}]
        for name, (low, high) in LIMITS.items()
        if name in fields and not low <= fields[name] <= high
    }
    if wrong:
        raise RuleViolation(
            "rule_out_of_range", _("A rule cannot be set so. Look at its range."), fields=wrong
        )
    with change(actor=actor, clock=clock, reason=reason) as log:
        return log.update(rules, actions.RULES_CHANGED, **fields)


def set_reader_repeatability(
    *,
    actor: User,
    person: User,
    standard_deviation_mm: Decimal,
    source: str,
    clock: Clock = SYSTEM_CLOCK,
) -> ReaderRepeatability:
    """Record how well a person repeats a height; a second time changes the first."""
    require(actor, Action.MANAGE_RULES)
    _check_deviation(standard_deviation_mm)
    source = require_reason(source, field="source")
    with change(actor=actor, clock=clock) as log:
        known = ReaderRepeatability.objects.select_for_update().filter(person=person).first()
        values = {"standard_deviation_mm": standard_deviation_mm, "source": source}
        if known:
            return log.update(known, actions.REPEATABILITY_CHANGED, **values)
        return log.add(ReaderRepeatability(person=person, **values), actions.REPEATABILITY_SET)


def _check_deviation(standard_deviation_mm: Decimal) -> None:
    low, high = LIMITS["height_repeatability_mm"]
    if not low <= standard_deviation_mm <= high:
        raise RuleViolation(
            "repeatability_implausible",
            _("A person repeats a height within %(low)s to %(high)s mm. Check the figure.")
            % {"low": low, "high": high},
            fields={"standard_deviation_mm": [_("in mm")]},
        )
