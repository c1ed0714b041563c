"""What goes wrong on purpose: which lots and sessions carry which planted story."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from reports.demo.calendars import DAY
from reports.demo.scenario import Scenario
from reports.demo.sessions import LONG_FORM, LotPlan, Session, session_after

# kind → share of lots (at least one each)
SHARES = {"bubble": 0.04, "early": 0.04, "slip": 0.03, "lead reads": 0.03, "undo": 0.01}
WREN_STEP_G_CM3 = 0.00003  # the comonomer feed creeps: so much a lot
WREN_LOTS = 22
OUT_OF_TREND_SD = 4.0
FAR_TOO_LIGHT_G_CM3 = -0.0042  # an Avocet lot that floats on Cedar
LIGHTER_G_CM3 = -0.0016  # one that rests above Cedar's lightest float


@dataclass(frozen=True)
class Stories:
    slip_set: Session | None


def plant_stories(
    scenario: Scenario, sessions: list[Session], now: datetime, rng: np.random.Generator
) -> Stories:
    placed = [(session, lot) for session in sessions for lot in session.lots]
    _out_of_trend(placed, sessions, now)
    _beyond_the_end(placed, sessions)
    _creep(placed)
    _void(placed, sessions, now)
    _cannot_tell(placed)
    _shares(scenario, placed, rng)
    return Stories(_slip_set(sessions, now))


def drift_wren(lots: list[LotPlan]) -> None:
    """Each lot a little denser than the one before, to the end of the month."""
    wren = [lot for lot in lots if lot.grade.code == "WR"][-WREN_LOTS:]
    for index, lot in enumerate(wren, start=1):
        lot.density_shift = WREN_STEP_G_CM3 * index


def _out_of_trend(
    placed: list[tuple[Session, LotPlan]], sessions: list[Session], now: datetime
) -> None:
    """A Heron lot inside its limits, far from its run; a repeat in Damson agrees."""
    target = now - 4 * DAY
    found = _repeatable(placed, sessions, "HR", ("Damson",), target)
    if found:
        lot, later = found
        lot.density_shift = OUT_OF_TREND_SD * lot.grade.true_lot_sd_g_cm3
        lot.trouble = "out of trend"
        lot.repeat_because = "Inside its limits but far from the lots before it: is it real?"
        later.repeats.append(lot)


def _beyond_the_end(placed: list[tuple[Session, LotPlan]], sessions: list[Session]) -> None:
    avocet = [
        (session, lot)
        for session, lot in placed
        if lot.grade.code == "AV" and session.column == "Cedar" and not lot.trouble
    ]
    for (session, lot), shift, trouble in zip(
        avocet, (FAR_TOO_LIGHT_G_CM3, LIGHTER_G_CM3), ("off the top", "lighter"), strict=False
    ):
        later = session_after(sessions, session.start, ("Ash", "Birch"))
        if later is not None:
            lot.density_shift = shift
            lot.trouble = trouble
            lot.repeat_because = "Outside Cedar's floats: measure it in a lighter column."
            later.repeats.append(lot)


def _creep(placed: list[tuple[Session, LotPlan]]) -> None:
    kestrel = [lot for _, lot in placed if lot.grade.code == "KS" and not lot.trouble]
    if len(kestrel) > 3:
        kestrel[len(kestrel) // 2].trouble = "creep"


def _void(placed: list[tuple[Session, LotPlan]], sessions: list[Session], now: datetime) -> None:
    found = _repeatable(placed, sessions, "PL", ("Cedar", "Damson"), now - 11 * DAY)
    if found:
        lot, later = found
        lot.trouble = "void"
        lot.repeat_because = "Spread beyond the grade's limit, one piece light: a void?"
        later.repeats.append(lot)


def _repeatable(
    placed: list[tuple[Session, LotPlan]],
    sessions: list[Session],
    code: str,
    columns: tuple[str, ...],
    target: datetime,
) -> tuple[LotPlan, Session] | None:
    """The lot of a grade nearest to a time that still finds a later session for its repeat."""
    own = [pair for pair in placed if pair[1].grade.code == code and not pair[1].trouble]
    for session, lot in sorted(own, key=lambda pair: abs(pair[0].start - target)):
        later = session_after(sessions, session.start, columns)
        if later is not None:
            return lot, later
    return None


def _cannot_tell(placed: list[tuple[Session, LotPlan]]) -> None:
    crowded = [
        lot
        for session, lot in placed
        if session.column == "Damson" and not lot.trouble and not lot.grade.is_plaque
    ]
    for lot in crowded[3::8][:2]:
        lot.trouble = "cannot tell"


def _shares(
    scenario: Scenario, placed: list[tuple[Session, LotPlan]], rng: np.random.Generator
) -> None:
    def plain(lot: LotPlan) -> bool:
        return not lot.trouble and scenario.recipe(lot.grade.recipe).form != LONG_FORM

    lots = [lot for _, lot in placed if plain(lot)]
    order = iter([lots[int(index)] for index in rng.permutation(len(lots))])
    for kind, share in SHARES.items():
        for _ in range(max(1, round(share * len(placed)))):
            lot = next(order, None)
            if lot is not None:
                lot.trouble = kind


def _slip_set(sessions: list[Session], now: datetime) -> Session | None:
    """The Damson session, a day or two before the end, whose float set carries swapped digits."""

    def nearness(session: Session) -> float:
        return abs((session.start - (now - 1.7 * DAY)) / DAY)

    return _first(sorted(sessions, key=nearness), lambda s: s.column == "Damson" and bool(s.lots))


def _first(sessions: list[Session], suits: Callable[[Session], bool]) -> Session | None:
    return next((session for session in sessions if suits(session)), None)
