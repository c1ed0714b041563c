"""Basket passes: they clear the column, end its calibration, and may stir it."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from columns import audit_actions as actions
from columns.instants import told
from columns.models import BasketPass, Fill, Hold
from columns.physics.constants import BASKET_RATE_LIMIT_MM_PER_MIN
from columns.services.fills import refuse_before_pour, refuse_unless_live
from columns.services.holds import add_hold
from columns.services.locks import locked
from columns.services.moments import moment
from columns.signals import basket_pass_finished, calibrations_changed
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import Change, change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import Conflict, RuleViolation
from labsite.quantities import rounded

LONGEST_WAY_MM = Decimal(5000)
LIFTS_FAST = gettext_lazy("Two float sets some hours apart that agree, or a new fill.")
LIFTS_MISSING = gettext_lazy("The missing float is found, or taken out of the fill by name.")


def start_basket_pass(
    *,
    actor: User,
    fill: Fill,
    travel_mm: Decimal | None = None,
    purpose: str = BasketPass.Purpose.CLEARING,
    started_at: datetime | None = None,
    clock: Clock = SYSTEM_CLOCK,
) -> BasketPass:
    """Start a pass over `travel_mm` (without it, the scale's length). It ends the calibration.

    Raises Conflict when one is under way or the column is empty.
    """
    require(actor, Action.RECORD_COLUMN_WORK)
    with change(actor=actor, clock=clock) as log:
        fill = locked(fill)
        refuse_unless_live(fill)
        at = moment(started_at, log.now, field="started_at")
        refuse_before_pour(fill, at, field="started_at")
        _refuse_overlap(fill, at)
        record = BasketPass(
            fill=fill,
            purpose=purpose,
            travel_mm=_checked_way(travel_mm, fill),
            started_at=at,
            started_by=actor,
        )
        log.add(record, actions.PASS_STARTED)
        calibrations_changed.send(sender=BasketPass, fill=fill, since_at=at, log=log)
        return record


def _refuse_overlap(fill: Fill, at: datetime) -> None:
    if fill.basket_passes.filter(ended_at__isnull=True).exists():
        raise Conflict("pass_running", _("A basket pass is under way. Finish it first."))
    if fill.basket_passes.filter(started_at__lte=at, ended_at__gt=at).exists():
        raise RuleViolation(
            "passes_overlap",
            _("Another basket pass was under way at %(at)s.") % {"at": told(at)},
            fields={"started_at": [_("within another pass")]},
        )


def _checked_way(travel_mm: Decimal | None, fill: Fill) -> Decimal:
    way = fill.column.scale_length_mm if travel_mm is None else travel_mm
    if not 0 < way <= LONGEST_WAY_MM:
        raise RuleViolation(
            "way_implausible",
            _("The basket's way lies above 0 and up to %(longest)s mm.")
            % {"longest": LONGEST_WAY_MM},
            fields={"travel_mm": [_("in mm")]},
        )
    return way


def finish_basket_pass(
    *,
    actor: User,
    basket_pass: BasketPass,
    ended_at: datetime | None = None,
    floats_out: int | None = None,
    floats_in: int | None = None,
    note: str = "",
    clock: Clock = SYSTEM_CLOCK,
) -> BasketPass:
    """Finish a pass. Too fast, or floats that do not come back, put the fill on hold.

    Raises Conflict when it is finished, RuleViolation when it would end before its start.
    """
    require(actor, Action.RECORD_COLUMN_WORK)
    with change(actor=actor, clock=clock) as log:
        fill = locked(basket_pass.fill)
        basket_pass = locked(basket_pass)
        if basket_pass.ended_at is not None:
            raise Conflict("pass_finished", _("This basket pass is finished already."))
        at = moment(ended_at, log.now, field="ended_at")
        _check_end(basket_pass, at)
        _check_counts(floats_out, floats_in)
        log.update(
            basket_pass,
            actions.PASS_FINISHED,
            ended_at=at,
            ended_by=actor,
            floats_out=floats_out,
            floats_in=floats_in,
            note=note,
        )
        _hold_if_needed(log, fill, basket_pass)
        basket_pass_finished.send(sender=BasketPass, basket_pass=basket_pass, log=log)
        return basket_pass


def _check_end(basket_pass: BasketPass, at: datetime) -> None:
    if at <= basket_pass.started_at:
        raise RuleViolation(
            "pass_end_before_start",
            _("The pass started at %(start)s and cannot end at %(end)s. Check both times.")
            % {"start": told(basket_pass.started_at), "end": told(at)},
            fields={"ended_at": [_("not after the start")]},
        )


def _check_counts(floats_out: int | None, floats_in: int | None) -> None:
    if (floats_out is None) != (floats_in is None):
        missing = "floats_in" if floats_in is None else "floats_out"
        raise RuleViolation(
            "float_count_missing",
            _("Count the floats that came out and those that went back in, or neither."),
            fields={missing: [_("missing")]},
        )


def rate_mm_per_min(basket_pass: BasketPass) -> Fraction:
    """The exact rate of a finished pass."""
    seconds = (basket_pass.ended_at - basket_pass.started_at).total_seconds()
    return Fraction(basket_pass.travel_mm) * 60 / Fraction(seconds)


def _hold_if_needed(log: Change, fill: Fill, basket_pass: BasketPass) -> None:
    rate = rate_mm_per_min(basket_pass)
    if rate > Fraction(BASKET_RATE_LIMIT_MM_PER_MIN):
        words = {
            "way": basket_pass.travel_mm,
            "rate": rounded(rate, 1),
            "limit": BASKET_RATE_LIMIT_MM_PER_MIN,
        }
        why = _("The basket moved %(way)s mm at %(rate)s mm/min; above %(limit)s it stirs.") % words
        add_hold(log, fill, Hold.Kind.FAST_PASS, why, str(LIFTS_FAST))
    if basket_pass.floats_out != basket_pass.floats_in:
        why = _("%(out)s floats came out and %(back)s went back in.") % {
            "out": basket_pass.floats_out,
            "back": basket_pass.floats_in,
        }
        add_hold(log, fill, Hold.Kind.FLOATS_MISSING, why, str(LIFTS_MISSING))
