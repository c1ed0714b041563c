"""The month's plan: when fills live, when baskets pass, which stretches are closed."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np

from reports.demo.baths import Excursion
from reports.demo.roster import Roster, Shift
from reports.demo.scenario import FillPlan, Scenario

DAY, HOUR, MINUTE = timedelta(days=1), timedelta(hours=1), timedelta(minutes=1)
MONTH = 31 * DAY
SETUP = 48 * DAY  # the lab begins this long before the end, so that fills have their age
HOLD_OFF = 12 * HOUR  # no reading after a basket pass
SETTLE = 23.2 * HOUR
BETWEEN_SETS = 2.8 * HOUR  # two equal sets, the second a day after the pour, open a fill
PASS_EVERY = 8.5 * DAY
PASS_TRAVEL_MM = 1320.0  # up and down again
PASS_RATE_MM_MIN = 10.0
LAST_PASS_BEFORE_END = 2.6 * DAY  # so that the bench is not crowded at the end
LAST_QUIET_PASS = 31 * HOUR  # the last day and a half is left to readings
CHIPPED, CHIP_AGE_DAYS = "F-305", 14
CHIP_CHANGE_G_CM3 = -0.0009


@dataclass(frozen=True)
class FillLife:
    plan: FillPlan
    poured_at: datetime
    set_times: tuple[datetime, datetime]
    opened_at: datetime
    drained_at: datetime | None

    @property
    def key(self) -> str:
        return self.plan.key


@dataclass(frozen=True)
class PassPlan:
    fill: str
    start: datetime
    end: datetime
    mixing_mm2: float
    story: str = ""  # "fast", "chip" or nothing


@dataclass
class Calendar:
    lives: dict[str, FillLife]
    passes: list[PassPlan] = field(default_factory=list)
    blocked: list[tuple[str, datetime, datetime]] = field(default_factory=list)
    excursion: Excursion | None = None

    def fill_in(self, column: str, start: datetime, end: datetime) -> str | None:
        """The column's fill that is open and free for the whole stretch."""
        for life in self.lives.values():
            if life.plan.column != column or life.opened_at > start:
                continue
            if life.drained_at is not None and life.drained_at < end:
                continue
            if not self.is_blocked(life.key, start, end):
                return life.key
        return None

    def is_blocked(self, fill: str, start: datetime, end: datetime) -> bool:
        return any(
            key == fill and begin < end and start < finish for key, begin, finish in self.blocked
        )

    def story(self, name: str) -> PassPlan:
        return next(plan for plan in self.passes if plan.story == name)


def draw_up(scenario: Scenario, roster: Roster, rng: np.random.Generator) -> Calendar:
    now = roster.now
    lives = {plan.key: _life(plan, roster) for plan in scenario.fills}
    calendar = Calendar(lives)
    _plan_excursion(calendar, roster)
    _plan_fast_passes(calendar, roster)
    for life in sorted(lives.values(), key=lambda life: life.poured_at):
        _plan_passes(calendar, life, roster, rng)
    _mark_chip(calendar, now, roster)
    calendar.passes.sort(key=lambda plan: (plan.start, plan.fill))
    return calendar


def snap(roster: Roster, instant: datetime) -> datetime:
    """The nearest time at which somebody is at work."""
    if roster.at(instant):
        return instant
    edges = [shift.start + 30 * MINUTE for shift in roster.shifts]
    edges += [shift.end - 2 * HOUR for shift in roster.shifts]
    return min(edges, key=lambda edge: abs(edge - instant))


def _life(plan: FillPlan, roster: Roster) -> FillLife:
    poured = snap(roster, roster.now - plan.poured_days_before_end * DAY)
    first = _set_time(roster, poured + SETTLE)
    second = _set_time(roster, first + BETWEEN_SETS)
    drained = plan.drained_days_before_end
    return FillLife(
        plan=plan,
        poured_at=poured,
        set_times=(first, second),
        opened_at=second + 20 * MINUTE,
        drained_at=None if drained is None else snap(roster, roster.now - drained * DAY),
    )


def _set_time(roster: Roster, instant: datetime) -> datetime:
    return instant if instant > roster.now else roster.working_time(instant)


def _plan_excursion(calendar: Calendar, roster: Roster) -> None:
    """Bath 2 loses its chiller in a shift whose next one is worked too."""

    def suits(shift: Shift) -> bool:
        return shift.name == "late" and roster.unbroken(shift, 1)

    shift = roster.nearest(roster.now - 9 * DAY, suits)
    start = shift.start + 65 * MINUTE
    calendar.excursion = Excursion(start, start + 3 * HOUR, height_c=1.1)
    for life in calendar.lives.values():
        if life.plan.column in ("Cedar", "Damson"):
            calendar.blocked.append((life.key, start - 5 * MINUTE, start + 9 * HOUR))


def _plan_fast_passes(calendar: Calendar, roster: Roster) -> None:
    """One weeks ago in Ash, made good since; one in Fir hours before the end."""

    def suits(shift: Shift) -> bool:
        return shift.name == "night" and roster.unbroken(shift, 2)

    night = roster.nearest(roster.now - 19.5 * DAY, suits)
    start = night.start + 70 * MINUTE
    calendar.passes.append(PassPlan("ash-1", start, start + 18 * MINUTE, 260.0, "fast"))
    calendar.blocked.append(("ash-1", start - 10 * MINUTE, start + 19 * HOUR))
    last = roster.now - 490 * MINUTE
    calendar.passes.append(PassPlan("fir-1", last, last + 18 * MINUTE, 260.0, "last"))
    calendar.blocked.append(("fir-1", last - 10 * MINUTE, roster.now + DAY))


def _plan_passes(
    calendar: Calendar, life: FillLife, roster: Roster, rng: np.random.Generator
) -> None:
    last = life.drained_at or roster.now
    due = last - LAST_PASS_BEFORE_END - float(rng.uniform(0, 1.5)) * DAY
    while due > max(life.opened_at + 2 * DAY, roster.now - MONTH):
        plan = _pass_near(calendar, life, roster, due, rng)
        if plan is not None and plan.end < last - LAST_QUIET_PASS:
            calendar.passes.append(plan)
            calendar.blocked.append((life.key, plan.start - 10 * MINUTE, plan.end + HOLD_OFF))
        due -= PASS_EVERY + float(rng.uniform(-1, 1)) * DAY


def _pass_near(
    calendar: Calendar, life: FillLife, roster: Roster, due: datetime, rng: np.random.Generator
) -> PassPlan | None:
    """A slow pass in the night shift nearest to when it is due; none before the month begins."""
    takes = PASS_TRAVEL_MM / PASS_RATE_MM_MIN * float(rng.uniform(1.0, 1.1)) * MINUTE
    begin = (40 + float(rng.uniform(0, 60))) * MINUTE

    def suits(shift: Shift) -> bool:
        start = shift.start + begin
        if shift.name != "night" or start < roster.now - MONTH or start < life.opened_at + DAY:
            return False
        return not calendar.is_blocked(life.key, start - HOUR, start + takes + HOLD_OFF + 2 * HOUR)

    if not any(map(suits, roster.shifts)):
        return None
    start = roster.nearest(due, suits).start + begin
    return PassPlan(life.key, start, start + takes, float(rng.uniform(15, 45)))


def _mark_chip(calendar: Calendar, now: datetime, roster: Roster) -> None:
    """The Cedar pass in which F-305 lost a chip; nothing else is done there until it is found."""
    target = now - CHIP_AGE_DAYS * DAY
    own = [plan for plan in calendar.passes if plan.fill == "cedar-1" and not plan.story]
    chosen = min(own, key=lambda plan: abs(plan.start - target))
    calendar.passes.remove(chosen)
    calendar.passes.append(
        PassPlan(chosen.fill, chosen.start, chosen.end, chosen.mixing_mm2, "chip")
    )
    found = chip_found_at(chosen, roster)
    calendar.blocked.append((chosen.fill, chosen.end, found + HOUR))


def chip_found_at(plan: PassPlan, roster: Roster) -> datetime:
    return roster.working_time(plan.end + HOLD_OFF + 35 * MINUTE)
