"""The density that follows from a reading: both figures, with inputs, method and findings."""

from __future__ import annotations

import math
from datetime import datetime
from decimal import Decimal
from typing import Any

from columns import physics
from columns.models import Calibration, Column
from columns.physics.bracketing import METHOD as BRACKETING_METHOD
from columns.physics.curves import METHOD as CURVE_METHOD
from columns.selectors.calibrations import CalibrationState, calibration_state, physics_of
from columns.selectors.rules import height_standard_uncertainty_mm
from labsite.audit.services import Change
from labsite.quantities import WORKING_PLACES, rounded, stored
from labsite.records import canonical_instant, canonical_json
from samples import audit_actions as actions
from samples.findings import finding
from samples.models import DensityResult, Reading, Specimen
from samples.selectors.specimens import present_readings

METHOD_VERSION = f"{BRACKETING_METHOD}+{CURVE_METHOD}"
NO_RESULT = (Reading.Outcome.BUBBLE, Reading.Outcome.NOT_AT_REST, Reading.Outcome.CANNOT_TELL)


def compute_result(
    log: Change, reading: Reading, *, state: CalibrationState | None = None
) -> DensityResult | None:
    """Add what the reading says by the calibration in force at its time; None if it says nothing.

    Without a calibration in force the result has no density and its finding tells why.
    """
    if reading.outcome in NO_RESULT:
        return None
    state = state or calibration_state(reading.specimen.fill, reading.read_at)
    return log.add(_result(reading, state), actions.RESULT_COMPUTED)


def recompute_result(log: Change, old: DensityResult) -> DensityResult | None:
    """Supersede a result by a new one, if the calibration in force gives another."""
    state = calibration_state(old.reading.specimen.fill, old.reading.read_at)
    new = _result(old.reading, state)
    if new.calibration_id == old.calibration_id and new.inputs == old.inputs:
        return None
    log.update(old, actions.RESULT_SUPERSEDED, superseded_at=log.now)
    return log.add(new, actions.RESULT_COMPUTED)


def _result(reading: Reading, state: CalibrationState) -> DensityResult:
    result = DensityResult(
        reading=reading, calibration=state.calibration, method_version=METHOD_VERSION
    )
    found = _reading_findings(reading)
    if state.calibration is None:
        result.outcome = DensityResult.Outcome.NONE
        result.inputs = canonical_json(_inputs(reading, None, None))
        why = {"value": state.refusal.message, "why": state.refusal.code}
        found.append(finding("no_calibration", **why))
    elif reading.outcome == Reading.Outcome.AT_REST:
        found += _measure(result, reading, state.calibration)
    else:
        _bound(result, reading, state.calibration)
    result.findings = canonical_json(found)
    return result


def _bound(result: DensityResult, reading: Reading, calibration: Calibration) -> None:
    """Off the top is lighter than the uppermost float, off the bottom denser than the lowest."""
    ladder = physics_of(calibration).ladder
    above = reading.outcome == Reading.Outcome.OFF_TOP
    result.outcome = DensityResult.Outcome.LIGHTER if above else DensityResult.Outcome.DENSER
    result.bound_float_id = float_ids(calibration)[ladder[-1 if above else 0].id]
    result.inputs = canonical_json(_inputs(reading, calibration, None))


def _measure(
    result: DensityResult, reading: Reading, calibration: Calibration
) -> list[dict[str, Any]]:
    """Fill in both figures; the findings that follow from them."""
    uncertainty = height_standard_uncertainty_mm(reading.specimen.fill.column, reading.read_by)
    column = physics_of(calibration)
    density = column.density_at(reading.height_mm, height_standard_uncertainty_mm=uncertainty)
    result.outcome = density.outcome
    result.inputs = canonical_json(_inputs(reading, calibration, uncertainty))
    if density.bound_float is not None:
        result.bound_float_id = float_ids(calibration)[density.bound_float]
        return []
    _keep_bracketing(result, density.bracketing)
    if density.curve is not None:
        result.curve_g_cm3 = stored(density.curve.density_g_cm3)
        result.curve_u_g_cm3 = stored(density.curve.standard_uncertainty_g_cm3)
    result.results = canonical_json(_details(density))
    return _density_findings(density, column) + _second_look(reading, uncertainty)


def _keep_bracketing(result: DensityResult, bracketing: Any) -> None:
    result.bracketing_g_cm3 = stored(bracketing.density_exact)
    result.bracketing_u_g_cm3 = stored(bracketing.standard_uncertainty_g_cm3)


def _inputs(
    reading: Reading, calibration: Calibration | None, uncertainty: float | None
) -> dict[str, Any]:
    height = reading.height_mm
    return {
        "reading": str(reading.pk),
        "outcome": reading.outcome,
        "height_mm": None if height is None else str(height),
        "read_at": canonical_instant(reading.read_at),
        "height_standard_uncertainty_mm": None if uncertainty is None else repr(uncertainty),
        "calibration": None if calibration is None else str(calibration.pk),
    }


def _details(density: physics.SpecimenDensity) -> dict[str, Any]:
    """What a check by hand needs beside the stored figures."""
    bracketing, curve = density.bracketing, density.curve
    exact = bracketing.density_exact
    details: dict[str, Any] = {
        "density_exact": f"{exact.numerator}/{exact.denominator}",
        "lower_float": bracketing.lower_float,
        "upper_float": bracketing.upper_float,
        "fraction": repr(bracketing.fraction),
        "slope_g_cm3_per_mm": repr(bracketing.slope_g_cm3_per_mm),
        "from_certificates_g_cm3": repr(bracketing.from_certificates_g_cm3),
        "from_float_heights_g_cm3": repr(bracketing.from_float_heights_g_cm3),
        "from_specimen_height_g_cm3": repr(bracketing.from_specimen_height_g_cm3),
    }
    if curve is not None:
        details["curve"] = {
            "interval_95_g_cm3": [str(stored(end)) for end in curve.interval_95],
            "from_curve_g_cm3": repr(curve.from_curve_g_cm3),
            "from_specimen_height_g_cm3": repr(curve.from_specimen_height_g_cm3),
        }
    return details


def _density_findings(
    density: physics.SpecimenDensity, column: physics.Calibration
) -> list[dict[str, Any]]:
    found = [
        finding(each.code, value=_places(each.value), limit=_places(each.limit))
        for each in density.findings
    ]
    if density.curve is None:
        found.append(finding("no_curve"))
    neighbours = {density.bracketing.lower_float, density.bracketing.upper_float}
    found += [
        finding("bracket_float_misfit", float=each.float)
        for each in column.findings
        if each.code == "float_misfit" and each.float in neighbours
    ]
    return found


def _places(value: Any) -> str:
    return str(rounded(abs(value), WORKING_PLACES))


def _reading_findings(reading: Reading) -> list[dict[str, Any]]:
    """What the circumstances of the drop and the reading say, whatever the calibration."""
    specimen = reading.specimen
    found = []
    if specimen.override_reason:
        found.append(finding("override_closed", value=specimen.override_reason))
    if reading.height_mm is not None:
        found += _readable(reading.height_mm, specimen.fill.column)
    if _awaits_second_look(specimen, reading.read_at, reading.outcome):
        found.append(finding("second_look_due", at=canonical_instant(specimen.second_look_at)))
    if reading.found_with_help:
        found.append(finding("found_with_help"))
    if reading.density_seen:
        found.append(finding("density_seen"))
    return found


def _readable(height_mm: Decimal, column: Column) -> list[dict[str, Any]]:
    low, high = column.readable_low_mm, column.readable_high_mm
    if low <= height_mm <= high:
        return []
    return [finding("outside_readable", value=height_mm, limit=f"{low}–{high}")]


def _awaits_second_look(specimen: Specimen, read_at: datetime, outcome: str) -> bool:
    again = specimen.second_look_at
    return outcome == Reading.Outcome.AT_REST and again is not None and read_at < again


def _second_look(reading: Reading, uncertainty: float) -> list[dict[str, Any]]:
    """A film that moved between its looks by more than two readings of one piece differ."""
    specimen = reading.specimen
    if specimen.second_look_at is None or reading.read_at < specimen.second_look_at:
        return []
    first = (
        present_readings()
        .filter(
            specimen=specimen,
            outcome=Reading.Outcome.AT_REST,
            read_at__lt=specimen.second_look_at,
        )
        .order_by("-read_at")
        .first()
    )
    if first is None:
        return []
    # JCGM 100:2008, 6.3.3: k = 2 on the difference of two readings
    limit = rounded(2 * math.sqrt(2) * uncertainty, 1)
    moved = abs(reading.height_mm - first.height_mm)
    if moved <= limit:
        return []
    return [finding("second_look_differs", value=moved, limit=limit)]


def float_ids(calibration: Calibration) -> dict[str, str]:
    """Ids of the floats of a calibration by their labels."""
    return {item["label"]: item["float"] for item in calibration.input_facts["floats"]}
