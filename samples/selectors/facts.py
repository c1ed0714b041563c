"""Everything a determination rests on, and what is known of a lot, for one person's eyes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from columns.models import Calibration
from samples.models import Determination, DeterminationPart, Lot, Reading
from samples.selectors.blindness import is_blind
from samples.selectors.determinations import parts_of
from samples.selectors.readings import with_results


@dataclass(frozen=True)
class CalibrationFacts:
    """A calibration that a determination used: its set, temperature, floats and certificates."""

    calibration: Calibration
    floats: list[dict[str, Any]]


@dataclass(frozen=True)
class DeterminationFacts:
    """For the result page: masked, everything but the determination itself is empty."""

    determination: Determination
    masked: bool
    parts: list[DeterminationPart]
    readings: list[Reading]
    calibrations: list[CalibrationFacts]
    issues: list[Determination]


def determination_facts(determination: Determination, person: Any) -> DeterminationFacts:
    """The chain from the number back to heights, floats and certificates, in fixed queries."""
    lot = Lot.objects.select_related("grade__recipe").get(pk=determination.lot_id)
    determination.lot = lot
    issues = list(
        lot.determinations.filter(number=determination.number)
        .select_related("lot", "prepared_by", "released_by")
        .order_by("issue")
    )
    if is_blind(person, lot):
        return DeterminationFacts(determination, True, [], [], [], issues)
    parts = list(
        parts_of(determination).select_related(
            "result__calibration__float_set__read_by",
            "result__calibration__float_set__fill__column",
        )
    )
    specimens = {part.result.reading.specimen_id for part in parts}
    readings = with_results(
        Reading.objects.filter(specimen__in=specimens)
        .select_related("specimen", "read_by", "entered_by")
        .order_by("specimen__number", "read_at", "created_at")
    )
    return DeterminationFacts(
        determination, False, parts, list(readings), _calibrations(parts), issues
    )


def _calibrations(parts: list[DeterminationPart]) -> list[CalibrationFacts]:
    used = {
        part.result.calibration_id: part.result.calibration
        for part in parts
        if part.result.calibration is not None
    }
    return [CalibrationFacts(each, _floats(each)) for each in used.values()]


def _floats(calibration: Calibration) -> list[dict[str, Any]]:
    """Each float as it entered the calibration, with its residual to the curve of all."""
    residuals = {each["label"]: each for each in calibration.result_facts["floats"]}
    return [{**residuals[item["label"]], **item} for item in calibration.input_facts["floats"]]
