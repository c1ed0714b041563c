"""From the densities of specimens to the density of a lot: mean, range, uncertainty, findings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import UUID

from columns.models import Calibration
from columns.physics import (
    expansion_uncertainty,
    rectangular_uncertainty,
    standard_uncertainty,
)
from columns.selectors.calibrations import physics_of
from labsite.quantities import WORKING_PLACES, rounded, stored
from samples import stats
from samples.constants import LARGEST_EXPANSION_PER_K
from samples.findings import KNOW, finding, level_of
from samples.models import DensityResult, Grade

METHOD = "mean/1"


@dataclass(frozen=True)
class Combined:
    """What a determination says, ready to be stored."""

    density: Decimal | None
    expanded_uncertainty: Decimal | None
    coverage_factor: Decimal | None
    spread: Decimal | None
    inputs: dict[str, Any]
    results: dict[str, Any]
    findings: list[dict[str, Any]]


def combine(grade: Grade, counted: Sequence[DensityResult], set_aside: Sequence[Any]) -> Combined:
    """Combine the counted results of one lot; `set_aside` are (result, reason) pairs.

    The mean is exact for the bracketing figure; the uncertainty keeps the covariance of specimens
    that were read on the same floats.
    """
    figure = grade.reported_figure
    inputs = _inputs(grade, counted, set_aside)
    findings = _specimen_findings(counted, set_aside, grade)
    densities = [density_of(result, figure) for result in counted]
    if not counted or any(density is None for density in densities):
        findings += [finding("figure_missing")] if counted else []
        return Combined(None, None, None, None, inputs, {"decision": decision(grade)}, findings)
    replicates = stats.summarise_replicates(densities)
    heat, heat_findings = _temperature_part(grade, counted, float(replicates.mean_exact))
    budget = stats.determination_uncertainty(
        densities,
        shared_covariance=_shared_covariance(counted, figure),
        reading_standard_uncertainty_g_cm3=_reading_part(counted, figure),
        temperature_standard_uncertainty_g_cm3=heat,
        pooled=_pooled(grade),
    )
    findings += [*heat_findings, *_scatter_findings(grade, counted, replicates, budget)]
    return Combined(
        density=stored(replicates.mean_exact),
        expanded_uncertainty=stored(budget.expanded_uncertainty_g_cm3),
        coverage_factor=rounded(budget.coverage_factor, 4),
        spread=stored(replicates.range_exact),
        inputs=inputs,
        results=_results(grade, counted, replicates, budget),
        findings=findings,
    )


def density_of(result: DensityResult, figure: str) -> Fraction | None:
    """The figure of a result that its grade reports: exact between floats, stored on the curve."""
    if figure == Grade.Figure.CURVE:
        return None if result.curve_g_cm3 is None else Fraction(result.curve_g_cm3)
    return Fraction(result.result_facts["density_exact"])


def decision(grade: Grade) -> dict[str, Any]:
    """What may be said about the limits: without limits there is no rule, and it is no pass."""
    has_limits = grade.lower_limit_g_cm3 is not None or grade.upper_limit_g_cm3 is not None
    return {"code": "not_decided" if has_limits else "no_rule"}


def _inputs(
    grade: Grade, counted: Sequence[DensityResult], set_aside: Sequence[Any]
) -> dict[str, Any]:
    return {
        "grade": str(grade.pk),
        "figure": grade.reported_figure,
        "lower_limit_g_cm3": _text(grade.lower_limit_g_cm3),
        "upper_limit_g_cm3": _text(grade.upper_limit_g_cm3),
        "spread_limit_g_cm3": _text(grade.spread_limit_g_cm3),
        "specimens_required": grade.specimens_required,
        "repeatability_g_cm3": _text(grade.repeatability_g_cm3),
        "repeatability_degrees_of_freedom": grade.repeatability_degrees_of_freedom,
        "expansion_per_k": _text(grade.expansion_per_k),
        "counted": [str(result.pk) for result in counted],
        "set_aside": [{"result": str(result.pk), "reason": reason} for result, reason in set_aside],
    }


def _text(value: Decimal | None) -> str | None:
    return None if value is None else f"{value.normalize():f}"


def _results(
    grade: Grade, counted: Sequence[DensityResult], replicates: Any, budget: Any
) -> dict[str, Any]:
    exact = replicates.mean_exact
    return {
        "density_exact": f"{exact.numerator}/{exact.denominator}",
        "means": {
            figure: _mean_of(counted, figure)
            for figure in (Grade.Figure.BRACKETING, Grade.Figure.CURVE)
        },
        "specimen_standard_deviation_g_cm3": _repr(replicates.sd),
        "standard_uncertainty_g_cm3": repr(budget.standard_uncertainty_g_cm3),
        "effective_degrees_of_freedom": _repr(budget.effective_degrees_of_freedom),
        "budget": [
            {
                "name": part.name,
                "standard_uncertainty_g_cm3": repr(part.standard_uncertainty_g_cm3),
                "degrees_of_freedom": _repr(part.degrees_of_freedom),
                "share": repr(part.share),
                "basis": part.basis,
            }
            for part in budget.parts
        ],
        "decision": decision(grade),
    }


def _repr(value: float | None) -> str | None:
    """A float as text; nothing stands for "not known", and for degrees of freedom without end."""
    return None if value is None or math.isinf(value) else repr(value)


def _mean_of(counted: Sequence[DensityResult], figure: str) -> str | None:
    """The mean by either method, since both are always shown."""
    densities = [density_of(result, figure) for result in counted]
    if any(density is None for density in densities):
        return None
    return str(stored(stats.summarise_replicates(densities).mean_exact))


def _shared_covariance(counted: Sequence[DensityResult], figure: str) -> list[list[float]]:
    """What the densities share through the floats.

    Exact among results of one calibration. Two calibrations mostly have the same floats: their
    shared parts are taken as fully correlated, which is the most that they can add.
    """
    size = len(counted)
    matrix = [[0.0] * size for _ in range(size)]
    blocks: dict[UUID, list[int]] = {}
    for place, result in enumerate(counted):
        blocks.setdefault(result.calibration_id, []).append(place)
    for places in blocks.values():
        block = _block(counted[places[0]].calibration, [counted[place] for place in places], figure)
        for row, place in enumerate(places):
            for column, other in enumerate(places):
                matrix[place][other] = block[row][column]
    for place, one in enumerate(counted):
        for other, two in enumerate(counted):
            if one.calibration_id != two.calibration_id:
                matrix[place][other] = math.sqrt(matrix[place][place] * matrix[other][other])
    return matrix


def _block(calibration: Calibration, results: list[DensityResult], figure: str) -> Any:
    shared = physics_of(calibration).covariance([each.reading.height_mm for each in results])
    return shared.curve if figure == Grade.Figure.CURVE else shared.bracketing


def _reading_part(counted: Sequence[DensityResult], figure: str) -> float:
    """Root mean square of what the height reading alone gives to each density."""
    parts = []
    for result in counted:
        facts = result.result_facts
        facts = facts["curve"] if figure == Grade.Figure.CURVE else facts
        parts.append(float(facts["from_specimen_height_g_cm3"]))
    return math.sqrt(sum(part**2 for part in parts) / len(parts))


def _temperature_part(
    grade: Grade, counted: Sequence[DensityResult], density: float
) -> tuple[float, list[dict[str, Any]]]:
    """Through the temperature that floats and specimens share: tolerance and thermometer."""
    expansion = grade.expansion_per_k
    found = []
    if expansion is None:
        expansion = LARGEST_EXPANSION_PER_K
        found.append(finding("expansion_not_known", limit=expansion))
    part = expansion_uncertainty(
        density,
        temperature_standard_uncertainty_c=max(_temperature_u(each) for each in counted),
        specimen_expansion_per_k=expansion,
    )
    return part, found


def _temperature_u(result: DensityResult) -> float:
    """The bath may be anywhere in its tolerance; the thermometer's own part comes on top."""
    float_set = result.calibration.float_set
    tolerance = rectangular_uncertainty(float_set.fill.column.bath.tolerance_c)
    thermometer = float_set.thermometer
    if thermometer is None or thermometer.expanded_uncertainty_c is None:
        return tolerance
    own = standard_uncertainty(thermometer.expanded_uncertainty_c, thermometer.coverage_factor)
    return math.hypot(tolerance, own)


def _pooled(grade: Grade) -> stats.PooledScatter | None:
    if grade.repeatability_g_cm3 is None:
        return None
    return stats.PooledScatter(
        float(grade.repeatability_g_cm3), grade.repeatability_degrees_of_freedom
    )


def _specimen_findings(
    counted: Sequence[DensityResult], set_aside: Sequence[Any], grade: Grade
) -> list[dict[str, Any]]:
    found = []
    if len(counted) < grade.specimens_required:
        found.append(
            finding("too_few_specimens", value=len(counted), limit=grade.specimens_required)
        )
    with_density = [
        f"{result.reading.specimen.number}: {reason}"
        for result, reason in set_aside
        if result.outcome == DensityResult.Outcome.MEASURED
    ]
    if with_density:
        found.append(finding("specimens_set_aside", value="; ".join(with_density)))
    heights = {result.reading.height_mm for result in counted}
    if len(counted) > 1 and len(heights) == 1:
        found.append(finding("same_height_repeated", value=len(counted), limit=heights.pop()))
    return found + _inherited(counted)


def _inherited(counted: Sequence[DensityResult]) -> list[dict[str, Any]]:
    """Findings of the specimens that the releasing person must see, each with its specimen."""
    return [
        {**each, "specimen": str(result.reading.specimen_id)}
        for result in counted
        for each in result.finding_list
        if level_of(each["code"]) != KNOW
    ]


def _scatter_findings(
    grade: Grade, counted: Sequence[DensityResult], replicates: Any, budget: Any
) -> list[dict[str, Any]]:
    found = [finding(code) for code in budget.findings]
    if len(counted) < 2:
        return found
    if replicates.range_exact > Fraction(grade.spread_limit_g_cm3):
        found.append(
            finding(
                "spread_too_large",
                value=rounded(replicates.range_exact, WORKING_PLACES),
                limit=_text(grade.spread_limit_g_cm3),
            )
        )
    return found
