"""The bench: every act that touches the glass, with the physics and the person behind it."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise

import numpy as np

from reports.demo import events
from reports.demo.baths import BathSeries
from reports.demo.liquids import GLASS_EXPANSION_PER_K
from reports.demo.readers import mistyped, read_mm
from reports.demo.scenario import SHAPES, Column, Grade, Recipe, Scenario
from reports.demo.truth import Planted, Truth

SET_MINUTES = 6.0  # reading nine floats and typing them


class Bench:
    """Writes events and truth side by side."""

    def __init__(
        self,
        scenario: Scenario,
        truth: Truth,
        baths: dict[str, BathSeries],
        rng: np.random.Generator,
    ) -> None:
        self.scenario = scenario
        self.truth = truth
        self.baths = baths
        self.rng = rng
        self.events: list[events.Event] = []
        self.counts: Counter[str] = Counter()
        self.column_of: dict[str, Column] = {}
        self.piece: dict[str, events.SpecimenDropped] = {}
        self.grade_of_lot: dict[str, Grade] = {}
        self.last_set: dict[str, events.FloatSetRead] = {}
        self.quarantined: dict[str, datetime] = {}
        self.shapes: dict[str, list[str]] = {}
        # determinations that wait for a repeat, with those who read them
        self.waiting: dict[str, tuple[events.DeterminationPrepared, set[str]]] = {}

    def add(self, event: events.Event) -> None:
        self.events.append(event)

    def key(self, kind: str) -> str:
        self.counts[kind] += 1
        return f"{kind}-{self.counts[kind]:04d}"

    def plant(self, kind: str, key: str, size: float, note: str = "") -> None:
        self.truth.planted.append(Planted(kind, key, size, note))

    def bath_of(self, fill: str) -> BathSeries:
        return self.baths[self.column_of[fill].bath]

    def warmer_k(self, fill: str, at: datetime) -> float:
        bath = self.bath_of(fill)
        return bath.true_c(at) - float(bath.bath.setpoint_c)

    # Floats

    def read_floats(
        self, at: datetime, by: str, fill: str, *, missing: tuple[tuple[str, str], ...] = ()
    ) -> events.FloatSetRead:
        key = self.key("set")
        column = self.column_of[fill]
        gone = {label for label, _ in missing}
        rests = self._float_rests(fill, at, gone)
        person = self.scenario.person(by)
        heights = tuple(
            (label, read_mm(person, column, rest, self.rng)) for label, rest in rests.items()
        )
        self.truth.float_rest_mm[key] = rests
        event = events.FloatSetRead(
            at=at,
            by=by,
            float_set=key,
            fill=fill,
            temperature_c=self.bath_of(fill).typed_c(at),
            heights=heights,
            missing=missing,
        )
        self.add(event)
        self.last_set[fill] = event
        return event

    def _float_rests(self, fill: str, at: datetime, gone: set[str]) -> dict[str, float]:
        liquid = self.truth.liquids[fill]
        rests = {}
        for glass in self.scenario.floats_of(self.column_of[fill].name):
            if glass.label in gone or self.quarantined.get(glass.label, at) < at:
                continue
            rests[glass.label] = liquid.rest_mm(
                self.truth.density_of_float(glass.label, at),
                at,
                warmer_k=self.warmer_k(fill, at),
                expansion_per_k=GLASS_EXPANSION_PER_K,
            )
        return rests

    def slip_in_set(self, float_set: events.FloatSetRead, near: float) -> events.FloatSetRead:
        """Mistype the height of the float that is nearest to a density; the order holds."""
        certified = {glass.label: float(glass.density_g_cm3) for glass in self.scenario.floats}
        slipped, right = min(float_set.heights, key=lambda row: abs(certified[row[0]] - near))
        wrong = mistyped(right)
        heights = tuple(
            (label, wrong if label == slipped else height) for label, height in float_set.heights
        )
        changed = replace(float_set, heights=heights)
        self.events[self.events.index(float_set)] = changed
        self.last_set[float_set.fill] = changed
        self.plant("set height mistyped", float_set.float_set, float(wrong - right), slipped)
        return changed

    # Pieces

    def drop(
        self,
        at: datetime,
        by: str,
        lot: str,
        fill: str,
        *,
        density: float | None = None,
    ) -> events.SpecimenDropped:
        grade = self.grade_of_lot[lot]
        key = self.key("piece")
        if density is None:
            own = self.rng.normal(0.0, grade.true_specimen_sd_g_cm3)
            density = self.truth.lot_density[lot] + own
        self.truth.specimen_density[key] = density
        event = events.SpecimenDropped(
            at=at,
            by=by,
            specimen=key,
            lot=lot,
            fill=fill,
            shape=self._shape(lot, fill),
            ready_at=at + timedelta(minutes=self.recipe_of(lot).wait_minutes),
        )
        self.piece[key] = event
        self.add(event)
        return event

    def recipe_of(self, lot: str) -> Recipe:
        return self.scenario.recipe(self.grade_of_lot[lot].recipe)

    def _shape(self, lot: str, fill: str) -> str:
        """A cut shape that the lot has not had, used least among the last pieces in this fill."""
        had = {piece.shape for piece in self.piece.values() if piece.lot == lot}
        free = [shape for shape in SHAPES if shape not in had]
        recent = self.shapes.setdefault(fill, [])
        used = Counter(recent[-len(SHAPES) * 2 :])
        fewest = min(used[shape] for shape in free)
        choice = [shape for shape in free if used[shape] == fewest]
        shape = choice[int(self.rng.integers(len(choice)))]
        recent.append(shape)
        return shape

    def place_mm(self, specimen: str, at: datetime) -> float:
        """Where a piece is: still sinking from the surface, or at rest."""
        piece = self.piece[specimen]
        liquid = self.truth.liquids[piece.fill]
        rest = liquid.rest_mm(
            self.truth.specimen_density[specimen],
            at,
            warmer_k=self.warmer_k(piece.fill, at),
            expansion_per_k=float(self.grade_of_lot[piece.lot].expansion_per_k),
        )
        minutes = (at - piece.at) / timedelta(minutes=1)
        still = np.exp(-minutes / self.recipe_of(piece.lot).settling_minutes)
        return rest + (liquid.length_mm - rest) * float(still)

    def read(
        self, at: datetime, by: str, specimen: str, outcome: str = "at_rest", *, seen: bool = False
    ) -> events.ReadingMade:
        piece = self.piece[specimen]
        column = self.column_of[piece.fill]
        place = self.place_mm(specimen, at)
        if outcome == "at_rest":
            outcome = _end_outcome(place, column) or outcome
        height = None
        if outcome in ("at_rest", "not_at_rest"):
            height = read_mm(self.scenario.person(by), column, place, self.rng)
        event = events.ReadingMade(
            at=at,
            by=by,
            reading=self.key("reading"),
            specimen=specimen,
            outcome=outcome,
            height_mm=height,
            gap=self._gap(piece.fill, height),
            density_seen=seen,
        )
        self.truth.reading_rest_mm[event.reading] = place
        self.add(event)
        return event

    def _gap(self, fill: str, height: Decimal | None) -> tuple[str, str] | None:
        """The two floats of the last set between which a height lies, as a person taps it."""
        float_set = self.last_set.get(fill)
        if height is None or float_set is None:
            return None
        for upper, lower in pairwise(float_set.heights):
            low, high = sorted((upper[1], lower[1]))
            if low <= height <= high:
                return upper[0], lower[0]
        return None

    def lies_between_floats(self, reading: events.ReadingMade) -> bool:
        """Whether a reading gives a number: at rest, and not beyond the end floats."""
        if reading.outcome != "at_rest" or reading.height_mm is None:
            return False
        heights = [height for _, height in self.last_set[self.fill_of(reading)].heights]
        return min(heights) <= reading.height_mm <= max(heights)

    def fill_of(self, reading: events.ReadingMade) -> str:
        return self.piece[reading.specimen].fill

    def retype(self, reading: events.ReadingMade, height: Decimal) -> events.ReadingMade:
        """Replace what was typed by a slip; no gap was tapped, or the app would have stopped it."""
        changed = replace(reading, height_mm=height, gap=None)
        self.events[self.events.index(reading)] = changed
        return changed


def _end_outcome(place: float, column: Column) -> str | None:
    """Beyond the readable limits nobody types a height."""
    ends = (column.above_bottom_mm(float(column.readable_low_mm)),)
    ends += (column.above_bottom_mm(float(column.readable_high_mm)),)
    if place > max(ends):
        return "off_top"
    return "off_bottom" if place < min(ends) else None
