"""What a person sees who is about to read a piece: heights and float names, and no density.

Neither the expected place nor any density, certified or found, leaves by this door; the liquid's
shade is given as a share between its ends.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from columns.models import Calibration
from columns.selectors.calibrations import CalibrationState, calibration_state
from samples.models import Specimen
from samples.selectors.bench import drawn_floats, drawn_profile, drawn_scale
from samples.selectors.occupants import contents_of, told_at
from samples.selectors.specimens import (
    present_readings,
    queue_item,
    unread,
    with_first_look,
)


def blind_view(specimen: Specimen, person: Any, at: datetime) -> dict[str, Any]:
    """The piece, its column without densities, and how far its lot is read."""
    specimen = (
        with_first_look(Specimen.objects.filter(pk=specimen.pk))
        .select_related("lot", "fill__column__bath", "fill__pair", "dropped_by")
        .get()
    )
    state = calibration_state(specimen.fill, at)
    of_lot = Specimen.objects.filter(lot=specimen.lot, removed_at__isnull=True)
    unread_ids = set(unread(of_lot).values_list("pk", flat=True))
    total = of_lot.count()
    return {
        "server_time": told_at(at),
        "specimen": _piece(specimen, person, at, is_unread=specimen.pk in unread_ids),
        "column": _column(specimen, state, person, at),
        "refusal": state.refusal and {"code": state.refusal.code, "message": state.refusal.message},
        "lot_read": {"read": total - len(unread_ids), "of": total},
    }


def _piece(specimen: Specimen, person: Any, at: datetime, *, is_unread: bool) -> dict[str, Any]:
    item = queue_item(specimen, person, at)
    return {
        "id": str(specimen.pk),
        "lot": {"id": str(specimen.lot_id), "code": specimen.lot.code},
        "shape": specimen.shape,
        "dropped_at": told_at(specimen.dropped_at),
        "dropped_by": str(specimen.dropped_by),
        "ready_at": told_at(item.due_at),
        "is_ready": item.is_ready,
        "is_mine": item.is_mine,
        "is_unread": is_unread,
        "is_removed": specimen.removed_at is not None,
        "second_look": is_unread and specimen.had_first_look,
        "seen_readings": present_readings().filter(specimen=specimen).count(),
    }


def _column(
    specimen: Specimen, state: CalibrationState, person: Any, at: datetime
) -> dict[str, Any]:
    column = specimen.fill.column
    contents = contents_of([specimen.fill], person, at)[specimen.fill_id]
    return {
        "id": str(column.pk),
        "name": column.name,
        "scale": drawn_scale(column),
        "shades": _shades(state.calibration, column) if state.calibration else [],
        "floats": _floats(state.latest, column),
        "occupants": [_outline(each) for each in contents.occupants if each["height_mm"]],
    }


def _floats(calibration: Calibration | None, column: Any) -> list[dict[str, Any]]:
    known = ("id", "label", "height_mm", "above_bottom_mm")
    return [{name: each[name] for name in known} for each in drawn_floats(calibration, column)]


def _shades(calibration: Calibration, column: Any) -> list[dict[str, float]]:
    """0 is the lightest end of the calibrated part, 1 the heaviest."""
    points = drawn_profile(calibration.inputs, column)
    densities = [point["density_g_cm3"] for point in points]
    low, span = min(densities), max(densities) - min(densities)
    return [
        {
            "above_bottom_mm": point["above_bottom_mm"],
            "shade": round((point["density_g_cm3"] - low) / span, 3),
        }
        for point in points
    ]


def _outline(occupant: dict[str, Any]) -> dict[str, Any]:
    """An older piece as a grey outline: where it lies, not whose it is."""
    return {name: occupant[name] for name in ("shape", "age", "height_mm", "above_bottom_mm")}
