"""Quillmere Works, the invented lab of the demo: what stands in fixtures/demo, as typed rows."""

from __future__ import annotations

import json
from dataclasses import dataclass, fields
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "demo"
LAB_NAME = "Quillmere Works"
TIME_ZONE = "Europe/London"
SHAPES = ("square", "triangle", "bar", "disc", "notched", "tee")

Row = TypeVar("Row")


@dataclass(frozen=True)
class Person:
    username: str
    name: str
    role: str
    team: str
    repeatability_mm: Decimal
    true_noise_mm: float
    whole_mm_share: float
    low_end_bias_mm: float


@dataclass(frozen=True)
class Bath:
    name: str
    setpoint_c: Decimal
    tolerance_c: Decimal
    thermometer: str
    thermometer_certificate: str
    thermometer_issuer: str
    expanded_uncertainty_c: Decimal
    coverage_factor: Decimal
    issued_days_before_end: int
    valid_days_after_end: int
    wander_c: float
    offset_c: float


@dataclass(frozen=True)
class Pair:
    name: str
    light: str
    heavy: str
    min_g_cm3: Decimal
    max_g_cm3: Decimal
    expansion_per_k: Decimal
    source: str


@dataclass(frozen=True)
class Column:
    name: str
    bath: str
    place: int
    origin: str
    length_mm: Decimal
    division_mm: Decimal
    readable_low_mm: Decimal
    readable_high_mm: Decimal
    bore_mm: Decimal

    def scale_mm(self, above_bottom_mm: float) -> float:
        """What the scale says at a height above its lower end."""
        return (
            above_bottom_mm if self.origin == "bottom" else float(self.length_mm) - above_bottom_mm
        )

    def above_bottom_mm(self, scale_mm: float) -> float:
        return self.scale_mm(scale_mm)  # the same reflection both ways


@dataclass(frozen=True)
class Float:
    label: str
    column: str
    diameter_mm: Decimal
    certificate: str
    issuer: str
    density_g_cm3: Decimal
    expanded_uncertainty_g_cm3: Decimal
    coverage_factor: Decimal
    common_standard_uncertainty_g_cm3: Decimal
    issued_days_before_end: int
    valid_days_after_end: int
    run: str


@dataclass(frozen=True)
class Recipe:
    name: str
    form: str
    thickness_mm: Decimal
    wait_minutes: int
    own_wait: bool  # else the wait follows from form and thickness
    settling_minutes: float
    readings_needed: int
    specimens_needed: int
    text: str


@dataclass(frozen=True)
class Grade:
    code: str
    name: str
    recipe: str
    target_g_cm3: Decimal
    lower_g_cm3: Decimal
    upper_g_cm3: Decimal
    columns: tuple[str, ...]
    spread_limit_g_cm3: Decimal
    expansion_per_k: Decimal
    true_mean_g_cm3: float
    true_lot_sd_g_cm3: float
    true_specimen_sd_g_cm3: float
    last_lot_number: int
    is_plaque: bool = False


@dataclass(frozen=True)
class FillPlan:
    key: str
    column: str
    pair: str
    top_g_cm3: Decimal
    bottom_g_cm3: Decimal
    poured_days_before_end: float
    drained_days_before_end: float | None
    true_diffusivity_mm2_day: float
    true_bend: tuple[float, float]


@dataclass(frozen=True)
class Scenario:
    people: tuple[Person, ...]
    baths: tuple[Bath, ...]
    pairs: tuple[Pair, ...]
    columns: tuple[Column, ...]
    floats: tuple[Float, ...]
    recipes: tuple[Recipe, ...]
    grades: tuple[Grade, ...]
    fills: tuple[FillPlan, ...]

    def person(self, username: str) -> Person:
        return next(person for person in self.people if person.username == username)

    def team(self, letter: str) -> tuple[Person, ...]:
        """The shift lead first, then the technicians."""
        return tuple(person for person in self.people if person.team == letter)

    def column(self, name: str) -> Column:
        return next(column for column in self.columns if column.name == name)

    def bath(self, name: str) -> Bath:
        return next(bath for bath in self.baths if bath.name == name)

    def pair(self, name: str) -> Pair:
        return next(pair for pair in self.pairs if pair.name == name)

    def recipe(self, name: str) -> Recipe:
        return next(recipe for recipe in self.recipes if recipe.name == name)

    def grade(self, code: str) -> Grade:
        return next(grade for grade in self.grades if grade.code == code)

    def fill(self, key: str) -> FillPlan:
        return next(fill for fill in self.fills if fill.key == key)

    def floats_of(self, column: str) -> tuple[Float, ...]:
        """A column's floats, lightest first."""
        own = (glass for glass in self.floats if glass.column == column)
        return tuple(sorted(own, key=lambda glass: glass.density_g_cm3))


def _value(kind: str, raw: Any) -> Any:
    if raw is None:
        return None
    if kind == "Decimal":
        return Decimal(raw) if raw != "" else Decimal("0")
    if kind.startswith("float"):
        return float(raw or 0)
    return tuple(raw) if isinstance(raw, list) else raw


def _rows(kind: type[Row], name: str, **more: Any) -> tuple[Row, ...]:
    stored = json.loads((FOLDER / name).read_text(encoding="utf-8"))["rows"]
    types = {field.name: str(field.type) for field in fields(kind)}  # type: ignore[arg-type]
    return tuple(
        kind(**{key: _value(types[key], raw) for key, raw in row.items()}, **more) for row in stored
    )


@cache
def quillmere() -> Scenario:
    """The demo lab as its files tell it."""
    plaques = _rows(Grade, "plaques.json", is_plaque=True)
    return Scenario(
        people=_rows(Person, "people.json"),
        baths=_rows(Bath, "baths.json"),
        pairs=_rows(Pair, "pairs.json"),
        columns=_rows(Column, "columns.json"),
        floats=_rows(Float, "floats.json"),
        recipes=_rows(Recipe, "recipes.json"),
        grades=_rows(Grade, "grades.json") + plaques,
        fills=_rows(FillPlan, "fills.json"),
    )
