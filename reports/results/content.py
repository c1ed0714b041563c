"""What the result page says of a determination: figures formatted once, nothing computed anew."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from columns import findings as column_findings
from columns.models import Calibration, Certificate
from labsite.audit.models import AuditHead
from labsite.quantities import (
    exact,
    format_density,
    format_height,
    format_misfit,
    format_result,
    rounded,
    written,
)
from samples import findings
from samples.models import Determination, DeterminationPart, Reading
from samples.selectors.decisions import decision_word
from samples.selectors.facts import CalibrationFacts, DeterminationFacts

HASH_SHOWN = 16
BASES = ("floats", "scatter", "temperature")


def result_content(facts: DeterminationFacts) -> dict[str, Any]:
    """Everything for the template; without figures when the reader may not see them yet."""
    found = facts.determination
    head = AuditHead.objects.filter(key=f"samples.determination:{found.pk}").first()
    content = {
        "determination": found,
        "lot": found.lot,
        "grade": found.lot.grade,
        "masked": facts.masked,
        "issues": facts.issues,
        "head": {"sequence": head.sequence, "hash": head.hash[:HASH_SHOWN]} if head else None,
    }
    return content if facts.masked else {**content, **_figures(facts)}


def _figures(facts: DeterminationFacts) -> dict[str, Any]:
    found = facts.determination
    results = found.result_facts
    return {
        "result": _result(found),
        "factor": _places(found.coverage_factor, 2),
        "means": {name: _density(value, 5) for name, value in results["means"].items()},
        "spread": _density(found.spread_g_cm3, 5),
        "decision": decision_word(results["decision"]["code"]),
        "budget": [_budget_line(line) for line in results.get("budget", [])],
        "freedom": _places(results.get("effective_degrees_of_freedom"), 1),
        "findings": findings.told(found.finding_list),
        "parts": [_part(part) for part in facts.parts],
        "readings": [_reading(reading) for reading in facts.readings],
        "calibrations": [_calibration(each) for each in facts.calibrations],
    }


def _result(found: Determination) -> str:
    if found.density_g_cm3 is None:
        return "–"
    if found.expanded_uncertainty_g_cm3 is None:
        return format_density(found.density_g_cm3, unit=True)
    return format_result(found.density_g_cm3, found.expanded_uncertainty_g_cm3)


def _density(value: Any, places: int) -> str:
    return "–" if value is None else format_density(Decimal(str(value)), places=places)


def _places(value: Any, places: int) -> str:
    return "" if value is None else written(rounded(exact(Decimal(str(value))), places))


def _budget_line(line: dict[str, Any]) -> dict[str, Any]:
    return {
        "name": line["name"],
        "u": _density(line["standard_uncertainty_g_cm3"], 7),
        "share": _places(Decimal(line["share"]) * 100, 0),
        "freedom": line["degrees_of_freedom"],
    }


def _part(part: DeterminationPart) -> dict[str, Any]:
    result, reading = part.result, part.result.reading
    column = reading.specimen.fill.column
    return {
        "part": part,
        "specimen": reading.specimen,
        "reading": reading,
        "column": column,
        "height": format_height(reading.height_mm, column.scale_division_mm),
        "bracketing": _density(result.bracketing_g_cm3, 7),
        "bracketing_u": _density(result.bracketing_u_g_cm3, 7),
        "curve": _density(result.curve_g_cm3, 7),
        "curve_u": _density(result.curve_u_g_cm3, 7),
    }


def _reading(reading: Reading) -> dict[str, Any]:
    height = None if reading.height_mm is None else written(reading.height_mm)
    return {"reading": reading, "height": height, "fate": _fate(reading)}


def _fate(reading: Reading) -> str:
    return reading.withdraw_reason or reading.amend_reason or reading.note


def _calibration(facts: CalibrationFacts) -> dict[str, Any]:
    calibration: Calibration = facts.calibration
    certificates = Certificate.objects.in_bulk(
        [item["certificate"] for item in facts.floats if item.get("certificate")]
    )
    return {
        "set": calibration.float_set,
        "correlation": _places(calibration.correlation, 6),
        "sensitivity": _places(calibration.sensitivity_g_cm3_per_mm, 7),
        "method": calibration.method_version,
        "floats": [
            _float(item, certificates, calibration.float_set.fill.column) for item in facts.floats
        ],
        "findings": [
            column_findings.sentence(each) for each in calibration.result_facts["findings"]
        ],
    }


def _float(
    item: dict[str, Any], certificates: dict[Any, Certificate], column: Any
) -> dict[str, Any]:
    by_text = {str(key): value for key, value in certificates.items()}
    residual = item.get("residual_g_cm3")
    return {
        "label": item["label"],
        "density": written(Decimal(item["density_g_cm3"])),
        "height": format_height(Decimal(item["height_mm"]), column.scale_division_mm),
        "certificate": by_text.get(item.get("certificate") or ""),
        "residual": format_misfit(Decimal(residual)) if residual else "–",
    }
