"""Fills: planned, poured, settling, open, drained."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from columns import audit_actions as actions
from columns.models import Column, Fill, FloatPlacement, LiquidPair
from columns.selectors.settling import missing_to_open
from columns.services.locks import locked
from columns.services.moments import moment, refuse_before
from columns.services.names import named_fields
from columns.services.pairs import check_density
from columns.signals import calibrations_changed, fill_drained
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import Change, change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import Conflict, RuleViolation
from labsite.reasons import require_reason

State = Fill.State
TRANSITIONS = {
    State.POURED: {State.PLANNED},
    State.SETTLING: {State.POURED},
    State.OPEN: {State.SETTLING},
    State.DRAINED: {State.PLANNED, State.POURED, State.SETTLING, State.OPEN},
}


def plan_fill(
    *,
    actor: User,
    column: Column,
    pair: LiquidPair,
    density_top_g_cm3: Decimal,
    density_bottom_g_cm3: Decimal,
    note: str = "",
    clock: Clock = SYSTEM_CLOCK,
) -> Fill:
    """Plan a fill. Raises RuleViolation when the pair cannot give these densities."""
    require(actor, Action.RECORD_COLUMN_WORK)
    with change(actor=actor, clock=clock) as log:
        if column.retired_at is not None:
            raise Conflict("column_retired", _("This column is out of use."))
        _check_span(pair, density_top_g_cm3, density_bottom_g_cm3)
        fill = Fill(
            column=column,
            pair=pair,
            density_top_g_cm3=density_top_g_cm3,
            density_bottom_g_cm3=density_bottom_g_cm3,
            note=note,
        )
        return log.add(fill, actions.FILL_PLANNED)


def change_fill(
    *, actor: User, fill: Fill, reason: str, clock: Clock = SYSTEM_CLOCK, **fields: Any
) -> Fill:
    """Change the plan of a fill before the pour; afterwards only its note."""
    require(actor, Action.RECORD_COLUMN_WORK)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        fill = locked(fill)
        named_fields(fill, fields)
        if set(fields) - {"note"}:
            _refuse_unless(fill, {State.PLANNED})
        _check_span(
            fields.get("pair", fill.pair),
            fields.get("density_top_g_cm3", fill.density_top_g_cm3),
            fields.get("density_bottom_g_cm3", fill.density_bottom_g_cm3),
        )
        return log.update(fill, actions.FILL_CHANGED, **fields)


def _check_span(pair: LiquidPair, top: Decimal, bottom: Decimal) -> None:
    check_density(top, field="density_top_g_cm3")
    check_density(bottom, field="density_bottom_g_cm3")
    if top >= bottom:
        raise RuleViolation(
            "fill_denser_below",
            _("Lighter liquid rests on denser liquid: the top must be the lighter end."),
            fields={"density_top_g_cm3": [_("not below the density at the bottom")]},
        )
    low, high = pair.density_low_g_cm3, pair.density_high_g_cm3
    wrong = {}
    if top < low:
        wrong["density_top_g_cm3"] = [_("below the lighter end")]
    if bottom > high:
        wrong["density_bottom_g_cm3"] = [_("above the denser end")]
    if wrong:
        raise RuleViolation(
            "outside_pair_range",
            _("%(pair)s gives %(low)s to %(high)s g/cm³; no mixture of the two goes beyond.")
            % {"pair": pair, "low": low, "high": high},
            fields=wrong,
        )


def pour_fill(
    *,
    actor: User,
    fill: Fill,
    liquid_bottom_mm: Decimal | None = None,
    liquid_top_mm: Decimal | None = None,
    poured_at: datetime | None = None,
    clock: Clock = SYSTEM_CLOCK,
) -> Fill:
    """Note that the fill was poured; the liquid's ends are heights on the column's scale.

    Raises Conflict when the column holds another fill, RuleViolation for an impossible span.
    """
    require(actor, Action.RECORD_COLUMN_WORK)
    with change(actor=actor, clock=clock) as log:
        column = locked(fill.column)
        fill = _step(fill, State.POURED)
        at = moment(poured_at, log.now, field="poured_at")
        _refuse_second_fill(column, at)
        _check_liquid(column, liquid_bottom_mm, liquid_top_mm)
        return log.update(
            fill,
            actions.FILL_POURED,
            state=State.POURED,
            poured_at=at,
            liquid_bottom_mm=liquid_bottom_mm,
            liquid_top_mm=liquid_top_mm,
        )


def _refuse_second_fill(column: Column, at: datetime) -> None:
    if column.fills.filter(state__in=Fill.LIVE).exists():
        raise Conflict(
            "column_not_empty",
            _("%(column)s still holds a fill. Drain it first.") % {"column": column},
        )
    last = column.fills.filter(drained_at__isnull=False, poured_at__isnull=False)
    drained_at = last.order_by("-drained_at").values_list("drained_at", flat=True).first()
    refuse_before(
        at,
        drained_at,
        code="poured_before_drain",
        field="poured_at",
        what=_("the drain of the fill before"),
    )


def _check_liquid(column: Column, bottom: Decimal | None, top: Decimal | None) -> None:
    if bottom is None and top is None:
        return
    ends = {"liquid_bottom_mm": bottom, "liquid_top_mm": top}
    missing = [name for name, value in ends.items() if value is None]
    if missing:
        raise RuleViolation(
            "liquid_end_missing",
            _("Give both ends of the liquid, or neither."),
            fields={name: [_("missing")] for name in missing},
        )
    for name, value in ends.items():
        refuse_off_scale(column, value, field=name)
    if column.above_bottom_mm(bottom) >= column.above_bottom_mm(top):
        raise RuleViolation(
            "liquid_span_not_valid",
            _(
                "The liquid's lower end lies above its upper end. On this scale zero is at the "
                "%(origin)s."
            )
            % {"origin": column.scale_origin},
            fields={name: [_("check")] for name in ends},
        )


def refuse_off_scale(column: Column, height_mm: Decimal, *, field: str) -> None:
    """Raise RuleViolation for a height that is not on the column's scale."""
    if 0 <= height_mm <= column.scale_length_mm:
        return
    words = {"height": height_mm, "length": column.scale_length_mm, "column": column}
    raise RuleViolation(
        "height_outside_scale",
        _("%(height)s mm is not on the scale of %(column)s, which reaches from 0 to %(length)s mm.")
        % words,
        fields={field: [_("expected 0 to %(length)s mm") % words]},
    )


def settle_fill(
    *,
    actor: User,
    fill: Fill,
    settling_at: datetime | None = None,
    clock: Clock = SYSTEM_CLOCK,
) -> Fill:
    """Leave a poured fill, with its floats lowered, to settle."""
    require(actor, Action.RECORD_COLUMN_WORK)
    with change(actor=actor, clock=clock) as log:
        fill = _step(fill, State.SETTLING)
        at = moment(settling_at, log.now, field="settling_at")
        refuse_before_pour(fill, at, field="settling_at")
        return log.update(fill, actions.FILL_SETTLING, state=State.SETTLING, settling_at=at)


def refuse_before_pour(fill: Fill, at: datetime, *, field: str) -> None:
    """Raise RuleViolation when `at` lies before the pour of the fill."""
    refuse_before(
        at, fill.poured_at, code="before_pour", field=field, what=_("the pour of this fill")
    )


def open_fill(
    *,
    actor: User,
    fill: Fill,
    early_reason: str = "",
    clock: Clock = SYSTEM_CLOCK,
) -> Fill:
    """Open a fill once it has settled and two float sets agree.

    What is missing is told in `extra["missing"]`. A shift lead or manager may open early with a
    reason; never on hold.
    """
    require(actor, Action.RECORD_COLUMN_WORK)
    with change(actor=actor, clock=clock, reason=early_reason.strip()) as log:
        fill = _step(fill, State.OPEN)
        missing = missing_to_open(fill, log.now)
        if missing:
            _allow_early(actor, missing, early_reason)
        code = actions.FILL_OPENED_EARLY if missing else actions.FILL_OPENED
        return log.update(fill, code, state=State.OPEN, opened_at=log.now)


def _allow_early(actor: User, missing: list[Any], early_reason: str) -> None:
    told_missing = [{"code": each.code, "message": each.message} for each in missing]
    if not early_reason or any(each.code == "on_hold" for each in missing):
        raise RuleViolation(
            "not_ready_to_open",
            " ".join(each.message for each in missing),
            missing=told_missing,
        )
    require(actor, Action.OVERRIDE_CLOSED)
    require_reason(early_reason, field="early_reason")


def drain_fill(
    *,
    actor: User,
    fill: Fill,
    reason: str,
    drained_at: datetime | None = None,
    clock: Clock = SYSTEM_CLOCK,
) -> Fill:
    """Drain a fill, or drop a plan. Its floats leave it with it.

    Raises Conflict while a basket pass is under way.
    """
    require(actor, Action.RECORD_COLUMN_WORK)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        fill = _step(fill, State.DRAINED)
        at = moment(drained_at, log.now, field="drained_at")
        refuse_before_pour(fill, at, field="drained_at")
        if fill.basket_passes.filter(ended_at__isnull=True).exists():
            raise Conflict("pass_running", _("Finish the basket pass first."))
        _take_floats_out(log, fill, at)
        fill = log.update(fill, actions.FILL_DRAINED, state=State.DRAINED, drained_at=at)
        fill_drained.send(sender=Fill, fill=fill, log=log)
        calibrations_changed.send(sender=Fill, fill=fill, since_at=at, log=log)
        return fill


def _take_floats_out(log: Change, fill: Fill, at: datetime) -> None:
    for placement in FloatPlacement.objects.filter(fill=fill, removed_at__isnull=True):
        log.update(
            placement,
            actions.FLOAT_REMOVED,
            removed_at=max(at, placement.placed_at),
            removed_by=log.actor,
            removal_reason=_("fill drained"),
        )


def _step(fill: Fill, target: str) -> Fill:
    """The fill, locked, if it may go to the state `target`; raises Conflict otherwise."""
    fill = locked(fill)
    _refuse_unless(fill, TRANSITIONS[target])
    return fill


def _refuse_unless(fill: Fill, allowed: set[str]) -> None:
    if fill.state not in allowed:
        raise Conflict(
            "wrong_state",
            _("This fill is %(state)s; that is not possible now.")
            % {"state": fill.get_state_display()},
            state=fill.state,
        )


def refuse_unless_live(fill: Fill) -> None:
    """Raise Conflict unless there is liquid in the column."""
    _refuse_unless(fill, set(Fill.LIVE))
