"""Work on the columns themselves: set-up, pours, basket passes, holds, bath rounds."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

from reports.demo import events
from reports.demo.bench import Bench
from reports.demo.calendars import (
    CHIP_CHANGE_G_CM3,
    CHIPPED,
    DAY,
    HOUR,
    MINUTE,
    MONTH,
    PASS_TRAVEL_MM,
    Calendar,
    FillLife,
    PassPlan,
    chip_found_at,
)
from reports.demo.roster import ZONE, Roster
from reports.demo.scenario import Scenario
from reports.demo.sessions import Session

FIRST_FLOAT = 30 * MINUTE
BETWEEN_FLOATS = 5 * MINUTE  # nine floats go down over 40 min
CLOSING_ROUNDS = 10 * HOUR


def note_pass(
    bench: Bench, by: str, fill: str, start: datetime, end: datetime, note: str = ""
) -> str:
    key = bench.key("pass")
    column = bench.column_of[fill].name
    quarantined = [
        glass.label
        for glass in bench.scenario.floats_of(column)
        if bench.quarantined.get(glass.label, end) < start
    ]
    count = 9 - len(quarantined)
    bench.add(
        events.BasketStarted(
            at=start, by=by, basket_pass=key, fill=fill, travel_mm=Decimal(int(PASS_TRAVEL_MM))
        )
    )
    bench.add(
        events.BasketEnded(
            at=end, by=by, basket_pass=key, floats_out=count, floats_in=count, note=note
        )
    )
    return key


def hold_fast_pass(bench: Bench, fill: str, start: datetime, end: datetime, lead: str) -> str:
    """A pass of 18 min, up and down, noted as it was, and the hold that follows from it."""
    key = note_pass(bench, lead, fill, start, end, "The motor was left on its fast setting.")
    hold = bench.key("hold")
    bench.add(
        events.HoldPlaced(
            at=end + 6 * MINUTE,
            by=lead,
            hold=hold,
            fill=fill,
            reason="Basket pass in 18 min, far too fast: the gradient may be stirred.",
            lifted_when="Two float sets that agree, the first at least 12 h after the pass.",
            after_pass=key,
        )
    )
    bench.plant("fast basket pass", key, 18.0)
    return hold


class Upkeep:
    def __init__(self, bench: Bench, roster: Roster, calendar: Calendar) -> None:
        self.bench = bench
        self.roster = roster
        self.calendar = calendar

    def hand(self, at: datetime, place: int) -> str:
        """Who does it: place 0 is the shift lead, 1 and 2 the technicians."""
        shift = self.roster.following(at)
        return self.bench.scenario.team(shift.team)[place].username

    def pour(self, life: FillLife) -> None:
        lead = self.hand(life.poured_at, 0)
        tech = self.hand(life.poured_at, 1)
        plan = life.plan
        self.bench.add(
            events.FillPlanned(
                at=life.poured_at - 90 * MINUTE,
                by=lead,
                fill=life.key,
                column=plan.column,
                pair=plan.pair,
                top_g_cm3=plan.top_g_cm3,
                bottom_g_cm3=plan.bottom_g_cm3,
            )
        )
        self.bench.add(events.FillPoured(at=life.poured_at, by=tech, fill=life.key))
        at = life.poured_at + FIRST_FLOAT
        for glass in self.bench.scenario.floats_of(plan.column):
            self.bench.add(events.FloatPlaced(at=at, by=tech, fill=life.key, label=glass.label))
            at += BETWEEN_FLOATS
        self.bench.add(events.FillLeftToSettle(at=at, by=tech, fill=life.key))

    def settle_set(self, life: FillLife, at: datetime) -> None:
        if at < self.roster.now:
            self.bench.read_floats(at, self.hand(at, 1), life.key)

    def open(self, life: FillLife) -> None:
        self.bench.add(
            events.FillOpened(
                at=life.opened_at,
                by=self.hand(life.opened_at, 0),
                fill=life.key,
                reason="Two float sets, more than 2 h apart, agree.",
            )
        )

    def weekly_set(self, life: FillLife, at: datetime) -> None:
        self.bench.read_floats(at, self.hand(at, 1), life.key)

    def drain(self, life: FillLife) -> None:
        assert life.drained_at is not None
        self.bench.add(
            events.FillDrained(
                at=life.drained_at,
                by=self.hand(life.drained_at, 0),
                fill=life.key,
                reason="End floats near the readable limits; refilled on plan.",
            )
        )

    def basket_pass(self, plan: PassPlan) -> None:
        tech = self.hand(plan.start, 2)
        key = note_pass(self.bench, tech, plan.fill, plan.start, plan.end)
        if plan.story == "chip":
            self.bench.truth.float_change[CHIPPED] = (plan.end, CHIP_CHANGE_G_CM3)
            self.bench.plant("float chipped", key, CHIP_CHANGE_G_CM3, CHIPPED)

    def find_chip(self, plan: PassPlan) -> None:
        """The first set after the pass shows one float off; the lead takes it out of use."""
        at = chip_found_at(plan, self.roster)
        tech, lead = self.hand(at, 1), self.hand(at, 0)
        self.bench.read_floats(at, tech, plan.fill)
        self.bench.add(
            events.FloatQuarantined(
                at=at + 12 * MINUTE,
                by=lead,
                label=CHIPPED,
                fill=plan.fill,
                reason="Far off the curve of the other eight since the basket pass: chipped?",
            )
        )
        self.bench.quarantined[CHIPPED] = at + 12 * MINUTE
        self.bench.read_floats(at + 30 * MINUTE, tech, plan.fill)

    def lift_after_pass(self, plan: PassPlan, hold: str) -> None:
        """Two equal sets five hours apart, then the lead lifts the hold."""
        first = plan.end + 12.6 * HOUR
        for at in (first, first + 5 * HOUR):
            self.bench.read_floats(at, self.hand(at, 1), plan.fill)
        self._lift(hold, first + 5.4 * HOUR, "Two float sets 5 h apart agree.")

    def _lift(self, hold: str, at: datetime, reason: str) -> None:
        self.bench.add(events.HoldLifted(at=at, by=self.hand(at, 0), hold=hold, reason=reason))

    def slip_and_amend(self, session: Session, typed: events.FloatSetRead) -> None:
        """A float's digits were exchanged when the set was typed; the next lead finds it."""
        near = float(session.lots[0].grade.target_g_cm3)
        changed = self.bench.slip_in_set(typed, near)
        rows = zip(typed.heights, changed.heights, strict=True)
        right = tuple(was for was, wrong in rows if was != wrong)
        at = session.shift.end + 50 * MINUTE
        self.bench.add(
            events.FloatSetAmended(
                at=at,
                by=self.hand(at, 0),
                float_set=typed.float_set,
                heights=right,
                reason="Mistyped: the bench note has the right height.",
            )
        )

    # Baths

    def bath_rounds(self) -> None:
        """Each bath near the start of each worked shift; the closing scene has its own rounds."""
        last = self.roster.now - CLOSING_ROUNDS
        for shift in self.roster.shifts:
            at = shift.start + 9 * MINUTE
            if self.roster.now - MONTH <= at < last:
                self.bath_round(at)

    def bath_round(self, at: datetime) -> None:
        for number, name in enumerate(sorted(self.bench.baths)):
            self.type_temperature(name, at + number * MINUTE)

    def type_temperature(self, bath: str, at: datetime) -> None:
        by = self.hand(at, 2)
        shown = self.bench.baths[bath].typed_c(at)
        self.bench.add(events.TemperatureTyped(at=at, by=by, bath=bath, temperature_c=shown))

    def excursion(self) -> None:
        """Bath 2 warms; both its columns go on hold; fresh sets in the next shift lift it."""
        warm = self.calendar.excursion
        assert warm is not None
        fills = [
            self.calendar.fill_in(column, warm.start - 10 * MINUTE, warm.start - 6 * MINUTE)
            for column in ("Cedar", "Damson")
        ]
        self.bench.plant("bath excursion", "Bath 2", warm.height_c)
        for minutes in (32, 75, 150, 185):
            self.type_temperature("Bath 2", warm.start + minutes * MINUTE)
        held = warm.start + 38 * MINUTE
        fresh = warm.end + 4 * HOUR
        for number, fill in enumerate(fill for fill in fills if fill):
            hold = self._hold_for_bath(fill, held + number * MINUTE)
            at = fresh + number * 15 * MINUTE
            self.bench.read_floats(at, self.hand(at, 1), fill)
            self._lift(hold, at + 40 * MINUTE, "Back in the band for 4 h and a fresh float set.")

    def _hold_for_bath(self, fill: str, at: datetime) -> str:
        hold = self.bench.key("hold")
        self.bench.add(
            events.HoldPlaced(
                at=at,
                by=self.hand(at, 0),
                hold=hold,
                fill=fill,
                reason="Bath 2 is far above 23.1 °C: the chiller has stopped.",
                lifted_when="Bath in its band for 3 h, then a float set that passes.",
            )
        )
        return hold


def set_up(bench: Bench, scenario: Scenario, at: datetime, end: datetime) -> None:
    """The first day: people, baths, columns, glass, recipes, grades."""
    for number, person in enumerate(scenario.people):
        bench.add(events.PersonJoined(at=at + number * MINUTE, by="yuki", person=person))
    at += HOUR
    for person in scenario.people:
        if person.repeatability_mm:
            bench.add(
                events.RepeatabilityRecorded(
                    at=at,
                    by="ingrid",
                    username=person.username,
                    repeatability_mm=person.repeatability_mm,
                )
            )
    last_day = end.astimezone(ZONE).date()
    for bath in scenario.baths:
        bench.add(
            events.BathInstalled(
                at=at,
                by="ingrid",
                bath=bath,
                issued_on=last_day - bath.issued_days_before_end * DAY,
                valid_until_on=last_day + bath.valid_days_after_end * DAY,
            )
        )
    for pair in scenario.pairs:
        bench.add(events.PairDefined(at=at, by="ingrid", pair=pair))
    for column in scenario.columns:
        bench.add(events.ColumnInstalled(at=at + MINUTE, by="ingrid", column=column))
    for recipe in scenario.recipes:
        bench.add(events.RecipeWritten(at=at + 2 * MINUTE, by="ingrid", recipe=recipe))
    for grade in scenario.grades:
        bench.add(events.GradeDefined(at=at + 3 * MINUTE, by="ingrid", grade=grade))
    _register_floats(bench, scenario, at + 10 * MINUTE, end)


def _register_floats(bench: Bench, scenario: Scenario, at: datetime, end: datetime) -> None:
    last_day = end.astimezone(ZONE).date()
    for glass in scenario.floats:
        bench.add(
            events.FloatRegistered(
                at=at, by="ingrid", label=glass.label, diameter_mm=glass.diameter_mm
            )
        )
        bench.add(
            events.CertificateRecorded(
                at=at + timedelta(seconds=30),
                by="ingrid",
                label=glass.label,
                number=glass.certificate,
                issuer=glass.issuer,
                density_g_cm3=glass.density_g_cm3,
                expanded_uncertainty_g_cm3=glass.expanded_uncertainty_g_cm3,
                coverage_factor=glass.coverage_factor,
                common_standard_uncertainty_g_cm3=glass.common_standard_uncertainty_g_cm3,
                issued_on=last_day - glass.issued_days_before_end * DAY,
                valid_until_on=last_day + glass.valid_days_after_end * DAY,
            )
        )
        at += MINUTE
