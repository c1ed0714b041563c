"""Fills: which one is in a column, how it stands, and whether a specimen may be dropped."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from columns.instants import told
from columns.models import BasketPass, Calibration, Column, Fill, Hold
from columns.selectors.calibrations import (
    ON_HOLD,
    CalibrationState,
    Refusal,
    calibration_states,
)
from columns.selectors.hold_offs import last_pass_ends
from columns.selectors.rules import lab_rules

EMPTY, CLOSED = "empty", "closed"
WORDS = {
    EMPTY: gettext_lazy("Empty"),
    "planned": gettext_lazy("Planned"),
    "poured": gettext_lazy("Poured"),
    "settling": gettext_lazy("Settling"),
    "open": gettext_lazy("Open"),
    ON_HOLD: gettext_lazy("On hold"),
    CLOSED: gettext_lazy("Closed"),
    "drained": gettext_lazy("Drained"),
}
NOT_YET = {
    "planned": gettext_lazy("This fill is planned only. Pour it, let it settle and open it first."),
    "poured": gettext_lazy("This fill was poured and is not open yet."),
    "settling": gettext_lazy("This fill is still settling. Open it when two float sets agree."),
    "drained": gettext_lazy("This fill was drained."),
}


@dataclass(frozen=True)
class Standing:
    """How a fill stands at an instant: the derived state, its word, a short note, and why.

    `findings` are refusals, the most important one first; `calibration` is the one in force.
    """

    state: str
    word: str
    note: str
    findings: tuple[Refusal, ...] = ()
    calibration: Calibration | None = None
    valid_until_at: datetime | None = None


@dataclass(frozen=True)
class _Facts:
    """What is known of several fills at an instant."""

    at: datetime
    calibrations: dict[UUID, CalibrationState]
    holds: dict[UUID, Hold]
    running: dict[UUID, BasketPass]
    pass_ends: dict[UUID, datetime]
    rest_after_pass: timedelta


def live_fill(column: Column) -> Fill | None:
    """The fill that is in the column now (poured, settling or open)."""
    return live_fills([column]).get(column.pk)


def live_fills(columns: Iterable[Column]) -> dict[UUID, Fill]:
    """The live fill of each column by the column's id."""
    found = Fill.objects.filter(column__in=list(columns), state__in=Fill.LIVE)
    return {fill.column_id: fill for fill in found.select_related("column__bath", "pair")}


def fill_at(column: Column, at: datetime) -> Fill | None:
    """The fill that was in the column at `at`."""
    return (
        Fill.objects.filter(column=column, poured_at__lte=at)
        .exclude(drained_at__lte=at)
        .select_related("column__bath", "pair")
        .order_by("-poured_at")
        .first()
    )


def state_at(fill: Fill, at: datetime) -> str:
    """The stored state that the fill had at `at`."""
    states = Fill.State
    steps = (
        (states.DRAINED, fill.drained_at),
        (states.OPEN, fill.opened_at),
        (states.SETTLING, fill.settling_at),
        (states.POURED, fill.poured_at),
    )
    return next((state.value for state, since in steps if since and since <= at), "planned")


def standing(fill: Fill, at: datetime) -> Standing:
    """How the fill stands at `at`: see `Standing`."""
    return standings([fill], at)[fill.pk]


def standings(fills: Iterable[Fill], at: datetime) -> dict[UUID, Standing]:
    """The standing of each fill by its id, in a fixed number of queries."""
    fills = list(fills)
    facts = _gather(fills, at)
    return {fill.pk: _standing(fill, facts) for fill in fills}


def drop_refusal(fill: Fill, at: datetime) -> Refusal | None:
    """Why no specimen may be dropped into `fill` at `at`; None when it may."""
    now = standing(fill, at)
    return None if now.state == Fill.State.OPEN else now.findings[0]


def open_holds(fills: Iterable[Fill], at: datetime) -> QuerySet[Hold]:
    """Holds of the fills that are not lifted at `at`, oldest first."""
    return (
        Hold.objects.filter(fill__in=list(fills), placed_at__lte=at)
        .exclude(lifted_at__lte=at)
        .select_related("placed_by")
        .order_by("placed_at")
    )


def _gather(fills: list[Fill], at: datetime) -> _Facts:
    running = BasketPass.objects.filter(fill__in=fills, started_at__lte=at).exclude(
        ended_at__lte=at
    )
    return _Facts(
        at=at,
        calibrations=calibration_states(fills, at),
        holds=_oldest_first(open_holds(fills, at)),
        running=_oldest_first(running.order_by("started_at")),
        pass_ends=last_pass_ends(fills, at),
        rest_after_pass=timedelta(hours=lab_rules().pass_hold_off_hours),
    )


def _oldest_first(rows: Iterable[Any]) -> dict[UUID, Any]:
    found: dict[UUID, Any] = {}
    for row in rows:
        found.setdefault(row.fill_id, row)
    return found


def _standing(fill: Fill, facts: _Facts) -> Standing:
    stored = state_at(fill, facts.at)
    known = facts.calibrations[fill.pk]
    findings = tuple(_findings(fill, stored, facts))
    state = _derived(stored, findings)
    return Standing(
        state=state,
        word=str(WORDS[state]),
        note=_note(fill, state, findings, known, facts.at),
        findings=findings,
        calibration=known.calibration if state == Fill.State.OPEN else None,
        valid_until_at=known.valid_until_at if state == Fill.State.OPEN else None,
    )


def _derived(stored: str, findings: tuple[Refusal, ...]) -> str:
    if stored in ("planned", "drained"):
        return stored
    if any(finding.code == ON_HOLD for finding in findings):
        return ON_HOLD
    if stored == Fill.State.OPEN and findings:
        return CLOSED
    return stored


def _findings(fill: Fill, stored: str, facts: _Facts) -> Iterable[Refusal]:
    hold = facts.holds.get(fill.pk)
    if hold and stored not in ("planned", "drained"):
        yield Refusal(
            ON_HOLD,
            _("On hold since %(at)s, by %(who)s: %(why)s What lifts it: %(lifts)s")
            % {
                "at": told(hold.placed_at),
                "who": hold.placed_by,
                "why": _as_sentence(hold.reason),
                "lifts": _as_sentence(hold.lifts_when),
            },
        )
    if stored in NOT_YET:
        yield Refusal(stored, str(NOT_YET[stored]))
        return
    yield from _pass_findings(fill, facts)
    refusal = facts.calibrations[fill.pk].refusal
    if refusal and refusal.code != ON_HOLD:
        yield refusal


def _as_sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _pass_findings(fill: Fill, facts: _Facts) -> Iterable[Refusal]:
    running, ended_at = facts.running.get(fill.pk), facts.pass_ends.get(fill.pk)
    if running:
        yield Refusal(
            "pass_running",
            _("A basket pass is under way since %(at)s.") % {"at": told(running.started_at)},
        )
    elif ended_at and ended_at + facts.rest_after_pass > facts.at:
        yield Refusal(
            "pass_hold_off",
            _("After the basket pass the column rests until %(at)s; then read the floats first.")
            % {"at": told(ended_at + facts.rest_after_pass)},
        )


def _note(
    fill: Fill,
    state: str,
    findings: tuple[Refusal, ...],
    known: CalibrationState,
    at: datetime,
) -> str:
    if state in (ON_HOLD, CLOSED):
        return findings[0].message
    day = _("day %(number)s") % {"number": age_days(fill, at)} if fill.poured_at else ""
    if known.calibration is None or state != Fill.State.OPEN:
        return day
    read_at = date_format(localtime(known.calibration.float_set.read_at), "H:i")
    return _("set %(time)s, %(day)s") % {"time": read_at, "day": day}


def age_days(fill: Fill, at: datetime) -> int | None:
    """Whole days since the pour."""
    return None if fill.poured_at is None else max(0, (at - fill.poured_at).days)
