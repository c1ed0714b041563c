"""What happens in the demo lab, one frozen row each, with values as a person would type them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from reports.demo import scenario


@dataclass(frozen=True, kw_only=True)
class Event:
    at: datetime  # UTC
    by: str  # username


@dataclass(frozen=True, kw_only=True)
class PersonJoined(Event):
    person: scenario.Person


@dataclass(frozen=True, kw_only=True)
class RepeatabilityRecorded(Event):
    username: str
    repeatability_mm: Decimal


@dataclass(frozen=True, kw_only=True)
class BathInstalled(Event):
    """A bath with its thermometer and that thermometer's certificate."""

    bath: scenario.Bath
    issued_on: date
    valid_until_on: date


@dataclass(frozen=True, kw_only=True)
class PairDefined(Event):
    pair: scenario.Pair


@dataclass(frozen=True, kw_only=True)
class ColumnInstalled(Event):
    column: scenario.Column


@dataclass(frozen=True, kw_only=True)
class FloatRegistered(Event):
    label: str
    diameter_mm: Decimal


@dataclass(frozen=True, kw_only=True)
class CertificateRecorded(Event):
    label: str
    number: str
    issuer: str
    density_g_cm3: Decimal
    expanded_uncertainty_g_cm3: Decimal
    coverage_factor: Decimal
    common_standard_uncertainty_g_cm3: Decimal
    issued_on: date
    valid_until_on: date


@dataclass(frozen=True, kw_only=True)
class RecipeWritten(Event):
    recipe: scenario.Recipe


@dataclass(frozen=True, kw_only=True)
class GradeDefined(Event):
    grade: scenario.Grade


@dataclass(frozen=True, kw_only=True)
class FillPlanned(Event):
    fill: str
    column: str
    pair: str
    top_g_cm3: Decimal
    bottom_g_cm3: Decimal


@dataclass(frozen=True, kw_only=True)
class FillPoured(Event):
    fill: str


@dataclass(frozen=True, kw_only=True)
class FloatPlaced(Event):
    fill: str
    label: str


@dataclass(frozen=True, kw_only=True)
class FillLeftToSettle(Event):
    fill: str


@dataclass(frozen=True, kw_only=True)
class FillOpened(Event):
    fill: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class FillDrained(Event):
    """The floats come out with it."""

    fill: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class TemperatureTyped(Event):
    bath: str
    temperature_c: Decimal


@dataclass(frozen=True, kw_only=True)
class FloatSetRead(Event):
    float_set: str
    fill: str
    temperature_c: Decimal
    heights: tuple[tuple[str, Decimal], ...]  # lightest first, on the scale as printed
    missing: tuple[tuple[str, str], ...] = ()  # float and reason


@dataclass(frozen=True, kw_only=True)
class FloatSetAmended(Event):
    float_set: str
    heights: tuple[tuple[str, Decimal], ...]  # only those that change
    reason: str


@dataclass(frozen=True, kw_only=True)
class FloatQuarantined(Event):
    label: str
    fill: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class LotRegistered(Event):
    lot: str
    grade: str


@dataclass(frozen=True, kw_only=True)
class SpecimenDropped(Event):
    specimen: str
    lot: str
    fill: str
    shape: str
    ready_at: datetime


@dataclass(frozen=True, kw_only=True)
class ReadingMade(Event):
    reading: str
    specimen: str
    outcome: str
    height_mm: Decimal | None
    gap: tuple[str, str] | None = None  # the floats above and below, as tapped
    density_seen: bool = False  # typed again after an undo


@dataclass(frozen=True, kw_only=True)
class ReadingUndone(Event):
    reading: str


@dataclass(frozen=True, kw_only=True)
class ReadingAmended(Event):
    reading: str
    height_mm: Decimal
    reason: str


@dataclass(frozen=True, kw_only=True)
class DeterminationPrepared(Event):
    determination: str
    lot: str
    specimens: tuple[str, ...]
    complete: bool  # three or more at rest: ready for release, else a draft
    repeat_because: str = ""


@dataclass(frozen=True, kw_only=True)
class DeterminationReleased(Event):
    determination: str


@dataclass(frozen=True, kw_only=True)
class HoldPlaced(Event):
    hold: str
    fill: str
    reason: str
    lifted_when: str
    after_pass: str | None = None  # the basket pass that was too fast


@dataclass(frozen=True, kw_only=True)
class HoldLifted(Event):
    hold: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class BasketStarted(Event):
    basket_pass: str
    fill: str
    travel_mm: Decimal  # up and down again


@dataclass(frozen=True, kw_only=True)
class BasketEnded(Event):
    """The basket is back down; what lay in the column is out, the floats are in again."""

    basket_pass: str
    floats_out: int
    floats_in: int
    note: str = ""
