"""Figures of a calibration as a page shows them: rounded here, so that no page rounds."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from rest_framework import serializers

from columns import findings
from columns.models import Calibration
from labsite.quantities import REPORTED_PLACES, WORKING_PLACES, rounded

MM_PLACES = 1
CORRELATION_PLACES = 5
SLOPE_PLACES = 7


class ShownFloatSerializer(serializers.Serializer):
    label = serializers.CharField()
    density_g_cm3 = serializers.CharField()
    height_mm = serializers.CharField()
    residual_mm = serializers.CharField(allow_null=True)
    residual_g_cm3 = serializers.CharField(allow_null=True)


class ShownGapSerializer(serializers.Serializer):
    lower_float = serializers.CharField()
    upper_float = serializers.CharField()
    length_mm = serializers.CharField()
    slope_g_cm3_per_mm = serializers.CharField()


class ShownFindingSerializer(serializers.Serializer):
    level = serializers.ChoiceField(choices=["stop", "look", "know"])
    code = serializers.CharField()
    message = serializers.CharField()


class ShownFiguresSerializer(serializers.Serializer):
    """The same figures in the places of working pages, lightest float first."""

    correlation = serializers.CharField(allow_null=True)
    sensitivity_g_cm3_per_mm = serializers.CharField(allow_null=True)
    floats = ShownFloatSerializer(many=True)
    gaps = ShownGapSerializer(many=True)
    findings = ShownFindingSerializer(many=True)


def shown_figures(calibration: Calibration) -> dict[str, Any]:
    facts = calibration.result_facts
    return {
        "correlation": _rounded(calibration.correlation, CORRELATION_PLACES),
        "sensitivity_g_cm3_per_mm": _rounded(calibration.sensitivity_g_cm3_per_mm, SLOPE_PLACES),
        "floats": _floats(calibration),
        "gaps": [_gap(gap) for gap in facts["gaps"]],
        "findings": [_finding(each) for each in facts["findings"]],
    }


def _rounded(figure: Any, places: int) -> str | None:
    return None if figure is None else f"{rounded(Decimal(str(figure)), places):f}"


def typed(figure: Any, least: int) -> str:
    """A typed decimal as it was typed, with at least `least` places; nothing is rounded.

    >>> typed("557.00", 1), typed("0.92901", 4)
    ('557.0', '0.92901')
    """
    number = Decimal(figure).normalize()
    return f"{number:.{max(least, -number.as_tuple().exponent)}f}"


def _floats(calibration: Calibration) -> list[dict[str, Any]]:
    residuals = {each["label"]: each for each in calibration.result_facts["floats"]}
    rows = [
        {
            "label": item["label"],
            "density_g_cm3": typed(item["density_g_cm3"], REPORTED_PLACES),
            "height_mm": typed(item["height_mm"], MM_PLACES),
            **_residual(residuals.get(item["label"], {})),
        }
        for item in calibration.input_facts["floats"]
    ]
    return sorted(rows, key=lambda row: Decimal(row["density_g_cm3"]))


def _residual(found: dict[str, Any]) -> dict[str, str | None]:
    return {
        "residual_mm": _rounded(found.get("residual_mm"), MM_PLACES),
        "residual_g_cm3": _rounded(found.get("residual_g_cm3"), WORKING_PLACES),
    }


def _gap(gap: dict[str, Any]) -> dict[str, Any]:
    return {
        "lower_float": gap["lower_float"],
        "upper_float": gap["upper_float"],
        "length_mm": typed(gap["length_mm"], MM_PLACES),
        "slope_g_cm3_per_mm": _rounded(gap["slope_g_cm3_per_mm"], SLOPE_PLACES),
    }


def _finding(found: dict[str, Any]) -> dict[str, str]:
    level = "stop" if findings.is_blocking(found["code"]) else "look"
    return {"level": level, "code": found["code"], "message": findings.sentence(found)}
