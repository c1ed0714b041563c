"""Liquid pairs."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from columns import audit_actions as actions
from columns.models import LiquidPair
from columns.physics.constants import DENSEST_FLOAT_G_CM3, LIGHTEST_FLOAT_G_CM3
from columns.services.locks import locked
from columns.services.names import free_name, named_fields
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import RuleViolation
from labsite.quantities import rounded
from labsite.reasons import require_reason

KG_M3_PER_G_CM3 = 1000
RANGE = ("density_low_g_cm3", "density_high_g_cm3")


def add_liquid_pair(
    *, actor: User, name: str, clock: Clock = SYSTEM_CLOCK, **fields: Any
) -> LiquidPair:
    """Add a pair. Raises RuleViolation for densities that are reversed or in another unit."""
    require(actor, Action.MANAGE_EQUIPMENT)
    with change(actor=actor, clock=clock) as log:
        pair = LiquidPair(name=free_name(LiquidPair, name), **fields)
        _check(pair)
        return log.add(pair, actions.PAIR_ADDED)


def change_liquid_pair(
    *, actor: User, pair: LiquidPair, reason: str, clock: Clock = SYSTEM_CLOCK, **fields: Any
) -> LiquidPair:
    require(actor, Action.MANAGE_EQUIPMENT)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        pair = locked(pair)
        fields = named_fields(pair, fields)
        _check(LiquidPair(**{name: getattr(pair, name) for name in RANGE} | fields))
        return log.update(pair, actions.PAIR_CHANGED, **fields)


def _check(pair: LiquidPair) -> None:
    for name in RANGE:
        check_density(getattr(pair, name), field=name)
    if pair.density_low_g_cm3 >= pair.density_high_g_cm3:
        raise RuleViolation(
            "densities_reversed",
            _("The light end must be lighter than the heavy end: lighter liquid rests on top."),
            fields={"density_low_g_cm3": [_("not below the heavy end")]},
        )


def check_density(density_g_cm3: Decimal, *, field: str) -> None:
    """Refuse what no gradient column holds; ask about kg/m³ or a lost digit where one fits."""
    low, high = LIGHTEST_FLOAT_G_CM3, DENSEST_FLOAT_G_CM3
    if low <= density_g_cm3 <= high:
        return
    for meant, question in _likely(density_g_cm3):
        if low <= meant <= high:
            raise RuleViolation(
                "density_unit",
                question % {"value": density_g_cm3, "meant": meant},
                fields={field: [_("in g/cm³?")]},
                suggestion={field: str(meant)},
            )
    raise RuleViolation(
        "density_implausible",
        _("%(value)s g/cm³ cannot be: columns hold %(low)s to %(high)s g/cm³.")
        % {"value": density_g_cm3, "low": low, "high": high},
        fields={field: [_("in g/cm³")]},
    )


def _likely(value: Decimal) -> tuple[tuple[Decimal, str], ...]:
    return (
        (
            rounded(value / KG_M3_PER_G_CM3, 6),
            _("%(value)s looks like kg/m³. Did you mean %(meant)s g/cm³? Enter it in g/cm³."),
        ),
        (
            rounded(value * 10, 6),
            _("%(value)s g/cm³ is too light. Did you mean %(meant)s g/cm³? Check the digits."),
        ),
    )
