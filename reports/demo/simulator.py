"""One month of work at Quillmere Works as a time-ordered list of events, and the truth behind it.

Everything follows from the end instant, the seed and the volume; nothing reads a clock. Needs only
the standard library, numpy and scipy.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import partial

import numpy as np

from reports.demo import events
from reports.demo.baths import BathSeries
from reports.demo.bench import SET_MINUTES, Bench
from reports.demo.calendars import DAY, HOUR, MINUTE, MONTH, SETUP, Calendar, draw_up
from reports.demo.closing import BATH_ROUNDS, LOTS, Closing, closing_lots
from reports.demo.liquids import Liquid
from reports.demo.roster import UTC, Roster
from reports.demo.scenario import Scenario, quillmere
from reports.demo.sessions import LotPlan, Session, allot_lots, number_lots, plan_sessions
from reports.demo.stories import Stories, drift_wren, plant_stories
from reports.demo.truth import Truth
from reports.demo.upkeep import Upkeep, hold_fast_pass, set_up
from reports.demo.work import run_session

SEED = 20231
CLOSING_SETS = 4
# sets that belong to pours, holds, the excursion and the chip rather than to a session
FIXED_SETS = 15 + 3 + 2 + 2 + 2 + CLOSING_SETS

Job = tuple[datetime, Callable[[], None]]


@dataclass(frozen=True)
class Volume:
    """How much work the month holds; float sets include about 28 of pours, holds and checks."""

    lots: int = 120
    float_sets: int = 160

    @property
    def sessions(self) -> int:
        return max(self.float_sets - FIXED_SETS, 0)


@dataclass(frozen=True)
class Month:
    events: tuple[events.Event, ...]
    truth: Truth
    now: datetime


def simulate(now: datetime, *, seed: int = SEED, volume: Volume | None = None) -> Month:
    """The month that ends at `now` (an aware instant)."""
    if now.tzinfo is None:
        raise ValueError("the end of the month needs a time zone")
    volume = volume or Volume()
    if volume.lots <= len(LOTS):
        raise ValueError(f"the closing scene alone needs more than {len(LOTS)} lots")
    now = now.astimezone(UTC).replace(microsecond=0)
    return _Simulation(now, seed, volume).run()


class _Simulation:
    def __init__(self, now: datetime, seed: int, volume: Volume) -> None:
        self.rng = np.random.default_rng(seed)
        self.scenario: Scenario = quillmere()
        self.roster = Roster(now - SETUP - DAY, now)
        self.calendar: Calendar = draw_up(self.scenario, self.roster, self.rng)
        self.truth = _truth(self.scenario, self.calendar, now, self.rng)
        self.bench = Bench(self.scenario, self.truth, self.truth.baths, self.rng)
        self.upkeep = Upkeep(self.bench, self.roster, self.calendar)
        self.volume = volume

    def run(self) -> Month:
        now = self.roster.now
        sessions, closing, stories = self._plan_work()
        set_up(self.bench, self.scenario, self.roster.working_time(now - SETUP), now)
        jobs = self._fill_jobs() + self._story_jobs() + self._session_jobs(sessions, stories)
        for _, job in sorted(jobs, key=lambda job: job[0]):
            job()
        self._bath_rounds()
        Closing(self.bench, self.roster, closing).play()
        ordered = sorted(self.bench.events, key=lambda event: event.at)
        return Month(tuple(event for event in ordered if event.at < now), self.truth, now)

    def _plan_work(self) -> tuple[list[Session], list[LotPlan], Stories]:
        sessions = plan_sessions(
            self.scenario, self.roster, self.calendar, self.volume.sessions, self.rng
        )
        closing = closing_lots(self.scenario)
        lots = allot_lots(self.scenario, sessions, self.volume.lots - len(closing), self.rng)
        number_lots(lots + closing)
        drift_wren(lots + closing)
        stories = plant_stories(self.scenario, sessions, self.roster.now, self.rng)
        return sessions, closing, stories

    def _fill_jobs(self) -> list[Job]:
        jobs: list[Job] = []
        for life in self.calendar.lives.values():
            self.bench.column_of[life.key] = self.scenario.column(life.plan.column)
            jobs.append((life.poured_at, partial(self.upkeep.pour, life)))
            for at in life.set_times:
                jobs.append((at, partial(self.upkeep.settle_set, life, at)))
            if life.opened_at >= self.roster.now:
                continue
            jobs.append((life.opened_at, partial(self.upkeep.open, life)))
            if life.drained_at is not None:
                jobs.append((life.drained_at, partial(self.upkeep.drain, life)))
            week_on = self.roster.working_time(life.opened_at + 6 * DAY)
            if week_on < self.roster.now - MONTH:
                read = partial(self.upkeep.weekly_set, life, week_on)
                jobs.append((week_on, read))
        return jobs

    def _story_jobs(self) -> list[Job]:
        jobs: list[Job] = []
        for plan in self.calendar.passes:
            if plan.story == "fast":
                jobs.append((plan.start, self._fast_pass_in_ash))
            elif plan.story != "last":  # the last one belongs to the closing scene
                jobs.append((plan.start, partial(self.upkeep.basket_pass, plan)))
        chip = self.calendar.story("chip")
        jobs.append((chip.end + 13 * HOUR, partial(self.upkeep.find_chip, chip)))
        assert self.calendar.excursion is not None
        jobs.append((self.calendar.excursion.start, self.upkeep.excursion))
        return jobs

    def _fast_pass_in_ash(self) -> None:
        plan = self.calendar.story("fast")
        lead = self.upkeep.hand(plan.end, 0)
        hold = hold_fast_pass(self.bench, plan.fill, plan.start, plan.end, lead)
        self.upkeep.lift_after_pass(plan, hold)

    def _session_jobs(self, sessions: list[Session], stories: Stories) -> list[Job]:
        jobs: list[Job] = []
        for session in sessions:
            jobs.append((session.start, partial(self._session, session, stories)))
        return jobs

    def _session(self, session: Session, stories: Stories) -> None:
        at = session.start + SET_MINUTES * MINUTE
        float_set = self.bench.read_floats(at, session.technician, session.fill)
        if session is stories.slip_set:
            self.upkeep.slip_and_amend(session, float_set)
        run_session(self.bench, self.roster, session)

    def _bath_rounds(self) -> None:
        self.upkeep.bath_rounds()
        for minutes in BATH_ROUNDS:
            self.upkeep.bath_round(self.roster.now - minutes * MINUTE)


def _truth(
    scenario: Scenario, calendar: Calendar, now: datetime, rng: np.random.Generator
) -> Truth:
    truth = Truth()
    _draw_floats(scenario, truth, rng)
    start = now - SETUP - DAY
    for bath in scenario.baths:
        excursion = calendar.excursion if bath.name == "Bath 2" else None
        truth.baths[bath.name] = BathSeries(bath, start, now, rng, excursion)
    for life in calendar.lives.values():
        plan = life.plan
        passes = [(p.end, p.mixing_mm2) for p in calendar.passes if p.fill == life.key]
        truth.liquids[life.key] = Liquid(
            length_mm=float(scenario.column(plan.column).length_mm),
            top_g_cm3=float(plan.top_g_cm3),
            bottom_g_cm3=float(plan.bottom_g_cm3),
            bend=plan.true_bend,
            diffusivity_mm2_day=plan.true_diffusivity_mm2_day,
            expansion_per_k=float(scenario.pair(plan.pair).expansion_per_k),
            poured_at=life.poured_at,
            passes=tuple(passes),
        )
    return truth


def _draw_floats(scenario: Scenario, truth: Truth, rng: np.random.Generator) -> None:
    """True density: certified, less the issuer's common error of a run and the float's own."""
    common: dict[str, float] = {}
    for glass in scenario.floats:
        standard = float(glass.expanded_uncertainty_g_cm3 / glass.coverage_factor)
        shared = float(glass.common_standard_uncertainty_g_cm3)
        if glass.run not in common:
            common[glass.run] = float(rng.normal(0.0, shared))
        own = float(rng.normal(0.0, np.sqrt(standard**2 - shared**2)))
        truth.float_density[glass.label] = float(glass.density_g_cm3) - common[glass.run] - own
