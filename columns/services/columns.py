"""Columns: the glass and its scale."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from columns import audit_actions as actions
from columns.models import Bath, Column, Fill
from columns.services.locks import locked
from columns.services.names import free_name, named_fields
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import Conflict, RuleViolation
from labsite.reasons import require_reason

# Our rule: sizes of columns that exist; outside them a unit or a digit is wrong.
SIZES_MM = {
    "scale_length_mm": (Decimal(100), Decimal(2000)),
    "scale_division_mm": (Decimal("0.05"), Decimal(10)),
    "bore_mm": (Decimal(10), Decimal(200)),
}
# A height read on the old scale would be misread on another one.
SCALE_FIELDS = frozenset(
    {"bath", "scale_origin", "scale_length_mm", "scale_division_mm", "bore_mm"}
)
CHECKED = (*SIZES_MM, "readable_low_mm", "readable_high_mm")


def add_column(
    *, actor: User, name: str, bath: Bath, clock: Clock = SYSTEM_CLOCK, **fields: Any
) -> Column:
    """Add a column. Raises Conflict for a taken name, RuleViolation for sizes that cannot be."""
    require(actor, Action.MANAGE_EQUIPMENT)
    with change(actor=actor, clock=clock) as log:
        column = Column(name=free_name(Column, name), bath=bath, **fields)
        _check(column)
        return log.add(column, actions.COLUMN_ADDED)


def change_column(
    *, actor: User, column: Column, reason: str, clock: Clock = SYSTEM_CLOCK, **fields: Any
) -> Column:
    """Change a column. Scale, bore and bath are fixed while a fill is in it (Conflict)."""
    require(actor, Action.MANAGE_EQUIPMENT)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        column = locked(column)
        fields = named_fields(column, fields)
        if SCALE_FIELDS & set(fields):
            _refuse_while_filled(column)
        _check(Column(**{name: getattr(column, name) for name in CHECKED} | fields))
        return log.update(column, actions.COLUMN_CHANGED, **fields)


def retire_column(
    *, actor: User, column: Column, reason: str, clock: Clock = SYSTEM_CLOCK
) -> Column:
    """Take a column out of use. Raises Conflict while a fill is in it."""
    require(actor, Action.MANAGE_EQUIPMENT)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        column = locked(column)
        if column.retired_at is not None:
            raise Conflict("already_retired", _("This column is retired already."))
        _refuse_while_filled(column)
        return log.update(column, actions.COLUMN_RETIRED, retired_at=log.now)


def _refuse_while_filled(column: Column) -> None:
    if column.fills.filter(state__in=Fill.LIVE).exists():
        raise Conflict(
            "column_in_use",
            _("%(column)s is filled. Drain it first: heights read so far belong to this scale.")
            % {"column": column},
        )


def _check(column: Column) -> None:
    for name, (low, high) in SIZES_MM.items():
        if not low <= getattr(column, name) <= high:
            raise RuleViolation(
                "size_implausible",
                _("This size cannot be: expected %(low)s to %(high)s mm.")
                % {"low": low, "high": high},
                fields={name: [_("in mm")]},
            )
    if not 0 <= column.readable_low_mm < column.readable_high_mm <= column.scale_length_mm:
        raise RuleViolation(
            "readable_limits_outside_scale",
            _("The readable part lies on the scale, from 0 to %(length)s mm, low before high.")
            % {"length": column.scale_length_mm},
            fields={"readable_low_mm": [_("check")], "readable_high_mm": [_("check")]},
        )
