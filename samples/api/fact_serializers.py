"""What a determination rests on, for the result page and for anybody who checks a number."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from columns.api.serializers import told_findings
from labsite.api.serializers import FigureFindingSerializer, PersonNameSerializer
from samples.api.determination_serializers import DeterminationRowSerializer, PartSerializer
from samples.api.serializers import (
    GradeSerializer,
    NamedSerializer,
    ReadingSerializer,
    RecipeSerializer,
    SpecimenSerializer,
)


class FactFloatSerializer(serializers.Serializer):
    """A float as it entered the calibration, its certificate, and its misfit to the curve."""

    float = serializers.UUIDField()
    label = serializers.CharField()
    height_mm = serializers.CharField()
    density_g_cm3 = serializers.CharField()
    standard_uncertainty_g_cm3 = serializers.CharField()
    certificate = serializers.UUIDField()
    certificate_number = serializers.CharField()
    valid_until = serializers.DateField()
    residual_g_cm3 = serializers.CharField(allow_null=True)
    residual_mm = serializers.CharField(allow_null=True)


class FactCalibrationSerializer(serializers.Serializer):
    """A calibration with its float set and the bath's temperature then."""

    id = serializers.UUIDField(source="calibration.pk")
    float_set = serializers.UUIDField(source="calibration.float_set_id")
    column = NamedSerializer(source="calibration.float_set.fill.column")
    read_at = serializers.DateTimeField(source="calibration.float_set.read_at")
    read_by = PersonNameSerializer(source="calibration.float_set.read_by")
    bath_temperature_c = serializers.CharField(source="calibration.float_set.bath_temperature_c")
    thermometer = serializers.SerializerMethodField()
    method_version = serializers.CharField(source="calibration.method_version")
    correlation = serializers.CharField(source="calibration.correlation")
    sensitivity_g_cm3_per_mm = serializers.CharField(source="calibration.sensitivity_g_cm3_per_mm")
    findings = serializers.SerializerMethodField()
    floats = FactFloatSerializer(many=True)

    def get_thermometer(self, facts: Any) -> str | None:
        thermometer = facts.calibration.float_set.thermometer
        return thermometer and str(thermometer)

    @extend_schema_field(FigureFindingSerializer(many=True))
    def get_findings(self, facts: Any) -> list[dict[str, Any]]:
        return told_findings(facts.calibration.result_facts["findings"])


class FactsSerializer(serializers.Serializer):
    """Parts, all readings of their specimens, calibrations, and every issue of the number."""

    determination = DeterminationRowSerializer()
    grade = GradeSerializer(source="determination.lot.grade")
    recipe = RecipeSerializer(source="determination.lot.grade.recipe")
    masked = serializers.BooleanField()
    inputs = serializers.SerializerMethodField()
    results = serializers.SerializerMethodField()
    parts = PartSerializer(many=True)
    readings = ReadingSerializer(many=True)
    calibrations = FactCalibrationSerializer(many=True)
    issues = DeterminationRowSerializer(many=True)

    def get_inputs(self, facts: Any) -> dict[str, Any] | None:
        return None if facts.masked else facts.determination.input_facts

    def get_results(self, facts: Any) -> dict[str, Any] | None:
        return None if facts.masked else facts.determination.result_facts


class AxisPieceSerializer(serializers.Serializer):
    """A piece on the density axis with its interval of about 95 %."""

    specimen = serializers.UUIDField()
    shape = serializers.CharField()
    number = serializers.IntegerField()
    age = serializers.ChoiceField(choices=["today", "yesterday", "older"])
    density = serializers.CharField()
    low = serializers.CharField()
    high = serializers.CharField()
    excluded = serializers.BooleanField()
    set_aside_reason = serializers.CharField(allow_blank=True)


class AxisMeanSerializer(serializers.Serializer):
    density = serializers.CharField()
    low = serializers.CharField()
    high = serializers.CharField()
    text = serializers.CharField()
    count = serializers.IntegerField()


class AxisLimitsSerializer(serializers.Serializer):
    lower = serializers.CharField(allow_null=True)
    upper = serializers.CharField(allow_null=True)
    target = serializers.CharField()
    guard = serializers.CharField(allow_null=True)


class AxisSerializer(serializers.Serializer):
    pieces = AxisPieceSerializer(many=True)
    mean = AxisMeanSerializer(allow_null=True)
    limits = AxisLimitsSerializer(allow_null=True)


class LotFactsSerializer(serializers.Serializer):
    """All of a lot at once: its pieces, every issue of its determinations, the density axis."""

    grade = GradeSerializer(source="lot.grade")
    masked = serializers.BooleanField()
    specimens = SpecimenSerializer(many=True)
    determinations = DeterminationRowSerializer(many=True)
    axis = AxisSerializer()
    unread = serializers.ListField(child=serializers.UUIDField())
    barred = serializers.CharField(allow_null=True)
