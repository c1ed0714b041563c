"""Plays the demo's events through the lab's rules, told here a second time, and notes each breach.

The rules are written from the lab's decisions, not from the simulator: calibration in force at
most 8 h, ended by pass, hold, excursion or a float taken out; 12 h without readings after a pass;
drops only into an open column; release by a lead or the manager who read none of it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from functools import cache
from itertools import pairwise

from reports.demo import events as ev
from reports.demo.scenario import Column, Scenario, quillmere
from reports.demo.simulator import SEED, Month, Volume, simulate

HOUR = timedelta(hours=1)
MAX_AGE = 8 * HOUR
AFTER_PASS = 12 * HOUR
SETTLES = 24 * HOUR
AGREE_MM = Decimal("2.0")
UNDO = timedelta(seconds=10)
SECOND_LOOK = 3 * HOUR

# Any hour of any day: week-ends, nights, both changes of the clocks, a leap day, New Year.
ENDS = [
    datetime(2026, 10, 6, 8, 58, tzinfo=UTC),
    datetime(2026, 10, 4, 3, 20, tzinfo=UTC),
    datetime(2026, 3, 29, 0, 59, tzinfo=UTC),
    datetime(2026, 10, 25, 1, 30, tzinfo=UTC),
    datetime(2028, 2, 29, 21, 59, 59, tzinfo=UTC),
    datetime(2027, 1, 1, 0, 0, tzinfo=UTC),
    datetime(2026, 11, 21, 13, 0, tzinfo=timezone(timedelta(hours=9))),
    datetime(2026, 11, 30, 5, 45, tzinfo=UTC),
]
SMALL = Volume(lots=18, float_sets=38)  # what a test can load in seconds
SEEDED = [(end, seed) for seed, end in enumerate(ENDS, start=1)]


@cache
def month_ending(end: datetime, seed: int = SEED, volume: Volume | None = None) -> Month:
    """A simulated month, made once for all tests that look at it."""
    return simulate(end, seed=seed, volume=volume)


@dataclass
class FillNow:
    column: Column
    state: str = "planned"
    settling_at: datetime | None = None
    placed: list[str] = field(default_factory=list)
    sets: list[ev.FloatSetRead] = field(default_factory=list)
    calibrated_at: datetime | None = None
    pass_open: bool = False
    passed_at: datetime | None = None
    holds: set[str] = field(default_factory=set)
    pieces: list[str] = field(default_factory=list)

    def in_force(self, at: datetime) -> bool:
        return self.calibrated_at is not None and at - self.calibrated_at <= MAX_AGE


class Replay:
    def __init__(self, all_events: tuple[ev.Event, ...], scenario: Scenario | None = None) -> None:
        self.scenario = scenario or quillmere()
        self.breaches: list[str] = []
        self.roles: dict[str, str] = {"yuki": "administrator"}
        self.fills: dict[str, FillNow] = {}
        self.pass_fill: dict[str, str] = {}
        self.hold_fill: dict[str, str] = {}
        self.pieces: dict[str, ev.SpecimenDropped] = {}
        self.readings: dict[str, ev.ReadingMade] = {}
        self.counting: dict[str, ev.ReadingMade] = {}
        self.readers: dict[str, set[str]] = {}
        self.lots: dict[str, str] = {}
        self.prepared: dict[str, ev.DeterminationPrepared] = {}
        self.released: dict[str, str] = {}
        self.quarantined: set[str] = set()
        self.without_calibration: list[str] = []
        self.temperature: dict[str, Decimal] = {}
        for event in all_events:
            if event.by not in self.roles:
                self.breach(event, "acts before joining")
            handler: Callable[[ev.Event], None] | None = getattr(
                self, f"on_{type(event).__name__}", None
            )
            if handler is not None:
                handler(event)

    def breach(self, event: ev.Event, what: str) -> None:
        self.breaches.append(f"{event.at:%Y-%m-%d %H:%M} {event.by} {type(event).__name__}: {what}")

    def need(self, event: ev.Event, holds: bool, what: str) -> None:
        if not holds:
            self.breach(event, what)

    def need_role(self, event: ev.Event, *roles: str) -> None:
        self.need(event, self.roles.get(event.by) in roles, f"role {self.roles.get(event.by)}")

    def on_PersonJoined(self, event: ev.PersonJoined) -> None:
        self.need_role(event, "administrator")
        self.roles[event.person.username] = event.person.role

    # Fills

    def on_FillPlanned(self, event: ev.FillPlanned) -> None:
        busy = [
            key
            for key, fill in self.fills.items()
            if fill.column.name == event.column and fill.state != "drained"
        ]
        self.need(event, not busy, "column still has a fill")
        self.fills[event.fill] = FillNow(self.scenario.column(event.column))

    def _step(self, event: ev.Event, fill: str, before: str, after: str) -> None:
        self.need(event, self.fills[fill].state == before, f"state {self.fills[fill].state}")
        self.fills[fill].state = after

    def on_FillPoured(self, event: ev.FillPoured) -> None:
        self._step(event, event.fill, "planned", "poured")

    def on_FloatPlaced(self, event: ev.FloatPlaced) -> None:
        elsewhere = [key for key, fill in self.fills.items() if event.label in fill.placed]
        self.need(event, not elsewhere, f"{event.label} is in {elsewhere}")
        self.fills[event.fill].placed.append(event.label)

    def on_FillLeftToSettle(self, event: ev.FillLeftToSettle) -> None:
        self._step(event, event.fill, "poured", "settling")
        self.fills[event.fill].settling_at = event.at

    def on_FillOpened(self, event: ev.FillOpened) -> None:
        self._step(event, event.fill, "settling", "open")
        self.need_role(event, "shift_lead", "manager")
        fill = self.fills[event.fill]
        self.need(event, event.at - fill.settling_at >= SETTLES, "opened within 24 h")
        self._need_agreement(event, fill)

    def _need_agreement(self, event: ev.Event, fill: FillNow) -> None:
        first, second = fill.sets[-2:]
        apart = second.at - first.at
        worst = max(
            abs(a - b) for (_, a), (_, b) in zip(first.heights, second.heights, strict=True)
        )
        self.need(event, apart >= 2 * HOUR, "sets less than 2 h apart")
        self.need(event, worst <= AGREE_MM, f"sets differ by {worst} mm")

    def on_FillDrained(self, event: ev.FillDrained) -> None:
        self._step(event, event.fill, "open", "drained")
        self.fills[event.fill].placed.clear()

    # Floats

    def on_FloatSetRead(self, event: ev.FloatSetRead) -> None:
        fill = self.fills[event.fill]
        self.need(event, fill.state in ("settling", "open"), f"state {fill.state}")
        read = [label for label, _ in event.heights] + [label for label, _ in event.missing]
        wanted = [label for label in fill.placed if label not in self.quarantined]
        self.need(event, read == wanted, f"floats {read}")
        above = [fill.column.above_bottom_mm(float(height)) for _, height in event.heights]
        falling = all(lower < upper for upper, lower in pairwise(above))
        self.need(event, falling, "order of floats reversed")
        for _, height in event.heights:
            self.need(event, height % fill.column.division_mm == 0, f"{height} not on the scale")
        self.need(event, self._after_hold_off(fill, event.at), "within 12 h of a pass")
        self.need(event, self._in_band(fill, event.temperature_c), "bath out of its band")
        fill.sets.append(event)
        fill.calibrated_at = event.at

    def _after_hold_off(self, fill: FillNow, at: datetime) -> bool:
        if fill.pass_open:
            return False
        return fill.passed_at is None or at - fill.passed_at >= AFTER_PASS

    def _in_band(self, fill: FillNow, temperature: Decimal) -> bool:
        bath = self.scenario.bath(fill.column.bath)
        return abs(temperature - bath.setpoint_c) <= bath.tolerance_c

    def on_FloatSetAmended(self, event: ev.FloatSetAmended) -> None:
        self.need_role(event, "shift_lead", "manager")
        self.need(event, len(event.reason) > 5, "no reason")

    def on_FloatQuarantined(self, event: ev.FloatQuarantined) -> None:
        self.need(event, event.label in self.fills[event.fill].placed, "not in the fill")
        self.quarantined.add(event.label)
        self.fills[event.fill].calibrated_at = None

    def on_TemperatureTyped(self, event: ev.TemperatureTyped) -> None:
        self.temperature[event.bath] = event.temperature_c
        for fill in self.fills.values():
            if fill.column.bath == event.bath and not self._in_band(fill, event.temperature_c):
                fill.calibrated_at = None

    # Holds and passes

    def on_HoldPlaced(self, event: ev.HoldPlaced) -> None:
        self.hold_fill[event.hold] = event.fill
        self.fills[event.fill].holds.add(event.hold)
        self.fills[event.fill].calibrated_at = None

    def on_HoldLifted(self, event: ev.HoldLifted) -> None:
        self.need_role(event, "shift_lead", "manager")
        self.fills[self.hold_fill[event.hold]].holds.remove(event.hold)

    def on_BasketStarted(self, event: ev.BasketStarted) -> None:
        fill = self.fills[event.fill]
        unread = [key for key in fill.pieces if key not in self.readers]
        self.need(event, not unread, f"unread pieces {unread}")
        self.need(event, fill.state == "open", f"state {fill.state}")
        self.pass_fill[event.basket_pass] = event.fill
        fill.pass_open, fill.calibrated_at = True, None

    def on_BasketEnded(self, event: ev.BasketEnded) -> None:
        fill = self.fills[self.pass_fill[event.basket_pass]]
        self.need(event, event.floats_in == event.floats_out, "a float is lost")
        fill.pass_open, fill.passed_at = False, event.at
        fill.pieces.clear()

    # Lots

    def on_LotRegistered(self, event: ev.LotRegistered) -> None:
        self.need(event, event.lot not in self.lots, "registered twice")
        self.lots[event.lot] = event.grade

    def on_SpecimenDropped(self, event: ev.SpecimenDropped) -> None:
        fill = self.fills[event.fill]
        self.need_role(event, "technician", "shift_lead", "manager")
        self.need(event, event.lot in self.lots, "lot not registered")
        self.need(event, fill.state == "open" and not fill.holds, f"not open: {fill.state}")
        self.need(event, fill.in_force(event.at), "no calibration in force")
        self.need(event, self._after_hold_off(fill, event.at), "within 12 h of a pass")
        self.pieces[event.specimen] = event
        fill.pieces.append(event.specimen)

    def on_ReadingMade(self, event: ev.ReadingMade) -> None:
        piece = self.pieces[event.specimen]
        fill = self.fills[piece.fill]
        self.need_role(event, "technician", "shift_lead", "manager")
        self.need(event, event.specimen in fill.pieces, "piece is out of the column")
        self.need(event, not fill.holds, "column on hold")
        self.need(event, self._after_hold_off(fill, event.at), "within 12 h of a pass")
        early = event.at < piece.ready_at
        self.need(event, not (early and event.outcome == "at_rest"), "at rest before its time")
        self.need(event, (event.outcome == "at_rest") <= (event.height_mm is not None), "no height")
        if not fill.in_force(event.at):
            self.without_calibration.append(event.reading)
        self.readings[event.reading] = event
        self.readers.setdefault(event.specimen, set()).add(event.by)
        if event.outcome == "at_rest":
            self.counting[event.specimen] = event

    def on_ReadingUndone(self, event: ev.ReadingUndone) -> None:
        made = self.readings[event.reading]
        self.need(event, made.by == event.by and event.at - made.at <= UNDO, "too late to undo")
        self.counting.pop(made.specimen, None)

    def on_ReadingAmended(self, event: ev.ReadingAmended) -> None:
        self.need(event, len(event.reason) > 5, "no reason")
        self.need(event, self.readings[event.reading].at < event.at, "before the reading")

    def on_DeterminationPrepared(self, event: ev.DeterminationPrepared) -> None:
        for key in event.specimens:
            self.need(event, self.pieces[key].lot == event.lot, "piece of another lot")
            self.need(event, key in self.counting, "piece without a reading at rest")
            self.need(event, self._looked_at_again(key), "a film without its second look")
        self.need(event, event.complete == (len(event.specimens) >= 3), "completeness")
        self.prepared[event.determination] = event

    def _looked_at_again(self, key: str) -> bool:
        piece = self.pieces[key]
        recipe = self.scenario.recipe(self.scenario.grade(self.lots[piece.lot]).recipe)
        if recipe.form != "film":
            return True
        return self.counting[key].at - piece.at >= SECOND_LOOK

    def on_DeterminationReleased(self, event: ev.DeterminationReleased) -> None:
        prepared = self.prepared[event.determination]
        self.need_role(event, "shift_lead", "manager")
        readers = set().union(*(self.readers[key] for key in prepared.specimens))
        self.need(event, event.by not in readers, "released by a reader")
        self.need(event, prepared.complete, "released a draft")
        self.need(event, event.determination not in self.released, "released twice")
        self.released[event.determination] = event.by
