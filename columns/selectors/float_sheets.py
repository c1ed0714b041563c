"""The empty sheet of a float set: which floats to read, lightest first, and on which scale.

No height and no misfit of an earlier set is in it: once seen, a number cannot be unseen.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import Q
from django.utils.timezone import localdate

from columns.models import Column, Fill, Thermometer
from columns.selectors.floats import float_table, is_valid_on, placements_at, quarantined
from columns.selectors.rules import lab_rules


def float_sheet(fill: Fill, at: datetime) -> dict[str, Any]:
    """Scale, bath, floats and thermometers for a set read in `fill` at `at`."""
    column = fill.column
    return {
        "fill": fill.pk,
        "state": fill.state,
        "column": {"id": column.pk, "name": column.name},
        "scale": scale_facts(column),
        "bath": column.bath,
        "minimum_floats": lab_rules().minimum_floats,
        "floats": _floats(fill, at),
        "thermometers": list(
            Thermometer.objects.filter(Q(bath=column.bath_id) | Q(bath__isnull=True))
        ),
    }


def scale_facts(column: Column) -> dict[str, Any]:
    """The scale as it is printed on the glass."""
    return {
        "origin": column.scale_origin,
        "length_mm": column.scale_length_mm,
        "division_mm": column.scale_division_mm,
        "readable_low_mm": column.readable_low_mm,
        "readable_high_mm": column.readable_high_mm,
        "bore_mm": column.bore_mm,
    }


def _floats(fill: Fill, at: datetime) -> list[dict[str, Any]]:
    placed = [placement.calibration_float for placement in placements_at(fill, at)]
    day = localdate(at)
    certificates = float_table(placed, day)
    doubted = quarantined([each.pk for each in placed], at)
    rows = [
        {
            "id": each.pk,
            "label": each.label,
            "density_g_cm3": certificates[each.pk] and certificates[each.pk].density_g_cm3,
            "has_valid_certificate": _is_valid(certificates[each.pk], day),
            "is_quarantined": each.pk in doubted,
        }
        for each in placed
    ]
    return sorted(rows, key=_lightest_first)


def _is_valid(certificate: Any, day: Any) -> bool:
    return certificate is not None and is_valid_on(certificate, day)


def _lightest_first(row: dict[str, Any]) -> tuple[bool, Any, str]:
    density = row["density_g_cm3"]
    return density is None, density or 0, row["label"]
