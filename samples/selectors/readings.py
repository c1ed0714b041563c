"""Readings and their densities as they stand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Prefetch, QuerySet

from columns.selectors.calibrations import physics_of
from labsite.records import canonical_instant
from samples.models import DensityResult, Reading
from samples.selectors.specimens import PRESENT


def present_results() -> QuerySet[DensityResult]:
    """Results not superseded, of readings that stand."""
    return DensityResult.objects.filter(
        superseded_at__isnull=True,
        reading__withdrawn_at__isnull=True,
        reading__replaced_at__isnull=True,
    )


def with_results(readings: QuerySet[Reading]) -> QuerySet[Reading]:
    """Each reading with its present result, if any, in `shown_results`."""
    results = DensityResult.objects.filter(superseded_at__isnull=True).select_related(
        "bound_float", "calibration__float_set"
    )
    return readings.prefetch_related(Prefetch("results", results, to_attr="shown_results"))


def counting_readings(specimen_ids: Any) -> dict[Any, Reading]:
    """The reading that counts of each specimen: the last one that stands and gives a result."""
    outcomes = (Reading.Outcome.AT_REST, Reading.Outcome.OFF_TOP, Reading.Outcome.OFF_BOTTOM)
    readings = (
        Reading.objects.filter(PRESENT, specimen__in=specimen_ids, outcome__in=outcomes)
        .select_related("specimen", "read_by")
        .order_by("read_at", "created_at")
    )
    return {reading.specimen_id: reading for reading in readings}


@dataclass(frozen=True)
class Afterwards:
    """What may be shown with one's own saved reading: how many of the lot are still to be read,
    and, once there are none, where the grade's expected density rests."""

    unread_of_lot: int
    expected: dict[str, Any] | None


def after_saving(reading: Reading, left: int) -> Afterwards:
    """`left` is how many specimens of the lot are still to be read."""
    result = reading.present_result
    if left or result is None or result.calibration is None:
        return Afterwards(left, None)
    density = reading.specimen.lot.grade.expected_density_g_cm3
    height = physics_of(result.calibration).height_at(density)
    return Afterwards(left, {"density_g_cm3": density, "height_mm": height})


def first_value(reading: Reading, *, masked: bool) -> dict[str, Any]:
    """What the second of two readers of a specimen is shown."""
    height = None if masked or reading.height_mm is None else str(reading.height_mm)
    return {
        "id": str(reading.pk),
        "read_at": canonical_instant(reading.read_at),
        "read_by": str(reading.read_by),
        "outcome": None if masked else reading.outcome,
        "height_mm": height,
        "masked": masked,
    }
