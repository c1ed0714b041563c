"""The wait clock of a dropped piece: when it may be read, and when it is looked at again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.utils.translation import gettext as _

from columns.physics import wait_before_reading
from columns.physics.errors import ThicknessNotValid
from labsite.errors import RuleViolation
from samples.constants import SECOND_LOOK_AFTER
from samples.models.grades import Form


@dataclass(frozen=True)
class WaitRule:
    minutes: int
    second_look: bool


def wait_of(form: str, thickness_mm: Decimal | None, *, own_minutes: int | None) -> WaitRule:
    """The wait of a piece; the recipe's own minutes replace the standard's, not the second look.

    Raises RuleViolation when none follows: a film without thickness, an unknown form without own
    minutes.
    """
    if form == Form.OTHER:
        if own_minutes is None:
            raise RuleViolation(
                "wait_not_known",
                _("For this form no wait is known. Give the recipe a wait of its own."),
                fields={"wait_minutes": [_("needed for this form")]},
            )
        return WaitRule(own_minutes, second_look=False)
    try:
        wait = wait_before_reading(form, thickness_mm)
    except ThicknessNotValid as error:
        raise RuleViolation(
            error.code,
            _("Give the thickness in millimetres, for example 0.050."),
            fields={"thickness_mm": [_("a thickness above zero is needed")]},
        ) from error
    return WaitRule(own_minutes or wait.minutes, wait.second_reading)


def ready_at(rule: WaitRule, dropped_at: datetime) -> datetime:
    return dropped_at + timedelta(minutes=rule.minutes)


def second_look_at(rule: WaitRule, dropped_at: datetime) -> datetime | None:
    """When a film is looked at again; None for pieces that are read once."""
    if not rule.second_look:
        return None
    return max(dropped_at + SECOND_LOOK_AFTER, ready_at(rule, dropped_at))
