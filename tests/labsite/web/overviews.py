"""Invented columns in the shape that the drawn column takes."""

from __future__ import annotations

from typing import Any

HEIGHTS = (658.5, 570.5, 493.5, 432.5, 349.5, 272.5, 198.0, 121.5, 40.0)
DENSITIES = (0.9330, 0.9374, 0.9418, 0.9453, 0.9500, 0.9544, 0.9587, 0.9629, 0.9670)


def make_float(index: int, origin: str = "bottom") -> dict[str, Any]:
    above = HEIGHTS[index]
    printed = 700 - above if origin == "top" else above
    return {
        "id": f"f{index}",
        "label": f"F-40{index + 1}",
        "density_g_cm3": f"{DENSITIES[index]:.4f}",
        "height_mm": f"{printed:.1f}",
        "above_bottom_mm": above,
        "residual_mm": 0.1,
    }


def make_piece(lot: str, shape: str, above: float | None, **changes: Any) -> dict[str, Any]:
    return {
        "specimen": f"{lot}-{shape}",
        "lot": lot,
        "lot_tail": lot[-4:],
        "shape": shape,
        "age": "today",
        "height_mm": None if above is None else f"{above:.1f}",
        "above_bottom_mm": above,
        "density_g_cm3": None if above is None else "0.94567",
        "masked": above is None,
        **changes,
    }


def make_tray_piece(lot: str, shape: str, state: str = "ready") -> dict[str, Any]:
    return {
        "specimen": f"{lot}-{shape}-tray",
        "lot": lot,
        "lot_tail": lot[-4:],
        "shape": shape,
        "state": state,
        "dropped_at": "2026-10-06T07:20:00Z",
        "ready_at": "2026-10-06T07:30:00Z",
        "mine": True,
    }


def make_calibration() -> dict[str, Any]:
    return {
        "id": "c1",
        "float_set": "s1",
        "read_at": "2026-10-06T05:05:00Z",
        "read_by": "Imre",
        "valid_until_at": "2026-10-06T13:05:00Z",
        "correlation": "0.99966",
        "sensitivity_g_cm3_per_mm": "0.000055",
        "largest_misfit": {"float": "F-405", "mm": "0.6", "g_cm3": "0.00003"},
        "profile": [
            {"above_bottom_mm": height, "density_g_cm3": density}
            for height, density in zip(HEIGHTS, DENSITIES, strict=True)
        ],
    }


def make_overview(*, origin: str = "bottom", **changes: Any) -> dict[str, Any]:
    return {
        "id": "damson",
        "name": "Damson",
        "bath": {"id": "b2", "name": "Bath 2"},
        "scale": {
            "origin": origin,
            "length_mm": "700",
            "division_mm": "0.5",
            "readable_low_mm": "10",
            "readable_high_mm": "690",
            "bore_mm": "60",
        },
        "state": "open",
        "state_word": "Open",
        "state_note": "set 07:05, day 24",
        "fill": None,
        "calibration": make_calibration(),
        "floats": [make_float(index, origin) for index in range(9)],
        "occupants": [make_piece("PL-0711", "square", 397.0), make_piece("PL-0711", "tee", 391.0)],
        "tray": [make_tray_piece("AV-1033", "disc")],
        "flags": [],
        **changes,
    }


def make_bench(columns: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "server_time": "2026-10-06T07:58:00Z",
        "valid_until_at": "2026-10-06T13:05:00Z",
        "headline": "1 of 1 columns can be used",
        "baths": [
            {
                "id": "b2",
                "name": "Bath 2",
                "setpoint_c": "23.0",
                "tolerance_c": "0.1",
                "temperature": {
                    "temperature_c": "22.98",
                    "at": "2026-10-06T07:57:00Z",
                    "band": "in",
                    "since_at": "2026-10-05T00:00:00Z",
                },
                "columns": columns,
            }
        ],
        "ready_count": 1,
        "falling_count": 0,
        "next": None,
    }
