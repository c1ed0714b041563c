"""What a calibration rests on: heights, certificates, and the rules of its day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.timezone import localdate

from columns import physics
from columns.models import Calibration, Certificate, Fill, FloatHeight, FloatSet
from columns.selectors.floats import certificates_on, is_valid_on, quarantined
from columns.selectors.rules import lab_rules, repeatability_mm
from labsite.accounts.models import User


@dataclass(frozen=True)
class Terms:
    """What a calibration is judged by besides its floats; kept when it is computed again."""

    height_standard_uncertainty_mm: str
    repeatability_mm: str
    minimum_floats: int
    calibration_max_age_hours: int
    pass_hold_off_hours: int


def present_terms(fill: Fill, reader: User) -> Terms:
    """The rules of now, and the reader's repeatability."""
    rules = lab_rules()
    repeatability = repeatability_mm(reader)
    uncertainty = physics.height_standard_uncertainty(
        fill.column.scale_division_mm, float(repeatability)
    )
    return Terms(
        height_standard_uncertainty_mm=repr(uncertainty),
        repeatability_mm=str(repeatability),
        minimum_floats=rules.minimum_floats,
        calibration_max_age_hours=rules.calibration_max_age_hours,
        pass_hold_off_hours=rules.pass_hold_off_hours,
    )


def stored_terms(calibration: Calibration) -> Terms:
    """The terms of the day on which the calibration was first computed."""
    facts = calibration.input_facts
    return Terms(**{name: facts[name] for name in Terms.__dataclass_fields__})


def float_items(
    float_set: FloatSet, heights: list[FloatHeight]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """What counts of each float, and findings on floats left out or with certificates not valid."""
    ids = [each.calibration_float_id for each in heights]
    doubted = quarantined(ids, float_set.read_at)
    day = localdate(float_set.read_at)
    certificates = certificates_on(ids, day)
    items, found = [], []
    for each in sorted(heights, key=lambda each: each.calibration_float.label):
        label = each.calibration_float.label
        certificate = certificates.get(each.calibration_float_id)
        if each.calibration_float_id in doubted:
            found.append({"code": "float_quarantined", "float": label})
            continue
        if certificate is None:
            found.append({"code": "certificate_missing", "float": label})
            continue
        found += _certificate_findings(label, certificate, day)
        items.append(_float_item(each, certificate))
    return items, found


def _certificate_findings(label: str, certificate: Certificate, day: Any) -> list[dict[str, Any]]:
    if is_valid_on(certificate, day):
        return []
    lapsed = certificate.valid_until < day
    return [
        {
            "code": "certificate_lapsed" if lapsed else "certificate_future",
            "float": label,
            "value": (certificate.valid_until if lapsed else certificate.issued_on).isoformat(),
        }
    ]


def _float_item(height: FloatHeight, certificate: Certificate) -> dict[str, Any]:
    uncertainty = physics.standard_uncertainty(
        certificate.expanded_uncertainty_g_cm3, certificate.coverage_factor
    )
    return {
        "float": str(height.calibration_float_id),
        "label": height.calibration_float.label,
        "height_mm": plain(height.height_mm),
        "density_g_cm3": plain(certificate.density_g_cm3),
        "standard_uncertainty_g_cm3": repr(uncertainty),
        "common_standard_uncertainty_g_cm3": plain(certificate.common_standard_uncertainty_g_cm3),
        "common_group": certificate.issuer,
        "certificate": str(certificate.pk),
        "certificate_number": certificate.number,
        "valid_until": certificate.valid_until.isoformat(),
    }


def plain(value: Any) -> str:
    """A decimal as typed, without the zeros that the database adds."""
    return format(value.normalize(), "f")


def input_facts(
    float_set: FloatSet, items: list[Any], heights: list[FloatHeight], terms: Terms
) -> dict[str, Any]:
    fill = float_set.fill
    column = fill.column
    ends = (fill.liquid_bottom_mm, fill.liquid_top_mm)
    return {
        "origin": column.scale_origin,
        "scale_length_mm": plain(column.scale_length_mm),
        "scale_division_mm": plain(column.scale_division_mm),
        "liquid": None if None in ends else {"bottom_mm": plain(ends[0]), "top_mm": plain(ends[1])},
        "bath_temperature_c": plain(float_set.bath_temperature_c),
        "floats": items,
        "left_out": [each.calibration_float.label for each in heights if each.height_mm is None],
        **vars(terms),
    }


def missing_findings(heights: list[FloatHeight]) -> list[dict[str, Any]]:
    return [
        {
            "code": "float_missing",
            "float": each.calibration_float.label,
            "value": each.missing_reason,
        }
        for each in heights
        if each.height_mm is None
    ]
