"""What goes out: float sets and calibrations, with residuals, gaps and findings."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from columns.api.serializers import BASE, told_findings
from columns.api.shown_figures import ShownFiguresSerializer, shown_figures
from columns.models import Calibration, FloatHeight, FloatSet
from labsite.api.serializers import (
    FigureFindingSerializer,
    PersonNameSerializer,
    RefusalReasonSerializer,
)


class ResidualSerializer(serializers.Serializer):
    """A float against the curve: certified minus curve, and what that is in height."""

    label = serializers.CharField()
    residual_g_cm3 = serializers.CharField(allow_null=True)
    residual_mm = serializers.CharField(allow_null=True)
    studentised_residual = serializers.CharField(allow_null=True)


class GapSerializer(serializers.Serializer):
    lower_float = serializers.CharField()
    upper_float = serializers.CharField()
    length_mm = serializers.CharField()
    slope_g_cm3_per_mm = serializers.CharField()


class CalibrationSerializer(serializers.ModelSerializer):
    """Figures as text: exactly what is stored."""

    fill = serializers.UUIDField(source="float_set.fill_id", read_only=True)
    read_at = serializers.DateTimeField(source="float_set.read_at", read_only=True)
    floats = serializers.SerializerMethodField()
    gaps = serializers.SerializerMethodField()
    findings = serializers.SerializerMethodField()
    inputs = serializers.SerializerMethodField()
    shown = serializers.SerializerMethodField()

    class Meta:
        model = Calibration
        fields = [
            *BASE,
            "float_set",
            "fill",
            "read_at",
            "method_version",
            "passes",
            "correlation",
            "sensitivity_g_cm3_per_mm",
            "floats",
            "gaps",
            "findings",
            "inputs",
            "shown",
            "superseded_at",
        ]

    @extend_schema_field(ResidualSerializer(many=True))
    def get_floats(self, calibration: Calibration) -> list[dict[str, Any]]:
        return calibration.result_facts["floats"]

    @extend_schema_field(GapSerializer(many=True))
    def get_gaps(self, calibration: Calibration) -> list[dict[str, Any]]:
        return calibration.result_facts["gaps"]

    @extend_schema_field(FigureFindingSerializer(many=True))
    def get_findings(self, calibration: Calibration) -> list[dict[str, Any]]:
        return told_findings(calibration.result_facts["findings"])

    def get_inputs(self, calibration: Calibration) -> dict[str, Any]:
        return calibration.input_facts

    @extend_schema_field(ShownFiguresSerializer())
    def get_shown(self, calibration: Calibration) -> dict[str, Any]:
        return shown_figures(calibration)


class FloatHeightSerializer(serializers.ModelSerializer):
    label = serializers.CharField(source="calibration_float.label", read_only=True)

    class Meta:
        model = FloatHeight
        fields = ["calibration_float", "label", "height_mm", "missing_reason"]


class FloatSetSerializer(serializers.ModelSerializer):
    """A float set, lightest float first, with its present calibration."""

    read_by = PersonNameSerializer(read_only=True)
    heights = serializers.SerializerMethodField()
    calibration = serializers.SerializerMethodField()

    class Meta:
        model = FloatSet
        fields = [
            *BASE,
            "fill",
            "read_at",
            "read_by",
            "bath_temperature_c",
            "thermometer",
            "note",
            "amends",
            "amend_reason",
            "replaced_at",
            "heights",
            "calibration",
        ]

    @extend_schema_field(FloatHeightSerializer(many=True))
    def get_heights(self, float_set: FloatSet) -> list[dict[str, Any]]:
        column = float_set.fill.column

        def from_the_top(row: FloatHeight) -> tuple[bool, Any, str]:
            missing = row.height_mm is None
            above = 0 if missing else -column.above_bottom_mm(row.height_mm)
            return missing, above, row.calibration_float.label

        rows = sorted(float_set.heights.all(), key=from_the_top)
        return FloatHeightSerializer(rows, many=True).data

    @extend_schema_field(CalibrationSerializer(allow_null=True))
    def get_calibration(self, float_set: FloatSet) -> dict[str, Any] | None:
        present = [c for c in float_set.calibrations.all() if c.superseded_at is None]
        return CalibrationSerializer(present[0]).data if present else None


class InForceSerializer(serializers.Serializer):
    """The calibration in force at an instant, or why there is none."""

    at = serializers.DateTimeField()
    fill = serializers.UUIDField(allow_null=True)
    calibration = CalibrationSerializer(allow_null=True)
    refusal = RefusalReasonSerializer(allow_null=True)
    valid_until_at = serializers.DateTimeField(allow_null=True)
