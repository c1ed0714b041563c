"""Stateless calculation: the same code path as stored calibrations, for anyone who checks."""

from __future__ import annotations

import math
from typing import Any

from django.utils.translation import gettext_lazy as _
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.response import Response

from columns import physics
from columns.api.serializers import told_findings
from columns.models import Column
from columns.physics.errors import PhysicsError
from columns.services.calibrations import finding_facts
from columns.services.physics_refusals import as_refusal
from labsite.accounts.roles import Action
from labsite.api.fields import LineField, StrictSerializer
from labsite.api.serializers import FigureFindingSerializer
from labsite.api.views import LabView

MOST_FLOATS, MOST_SPECIMENS = 60, 500


@extend_schema_field(OpenApiTypes.DOUBLE)
class NumberField(serializers.Field):
    """A JSON number, finite; text is refused, so that nothing is read as something else."""

    default_error_messages = {"not_a_number": _("Give a number, without quotation marks.")}

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, bool) or not isinstance(data, int | float):
            self.fail("not_a_number")
        value = float(data)
        if not math.isfinite(value):
            self.fail("not_a_number")
        return value

    def to_representation(self, value: Any) -> float:
        return float(value)


class ComputeFloatInput(StrictSerializer):
    id = LineField(max_length=40)
    density_g_cm3 = NumberField()
    standard_uncertainty_g_cm3 = NumberField()
    height_mm = NumberField()
    common_standard_uncertainty_g_cm3 = NumberField(required=False)


class ComputeSpecimenInput(StrictSerializer):
    id = LineField(max_length=40)
    height_mm = NumberField()


class ComputeColumnInput(StrictSerializer):
    liquid_bottom_mm = NumberField()
    liquid_top_mm = NumberField()


class CalibrationComputeInput(StrictSerializer):
    origin = serializers.ChoiceField(Column.Origin.choices)
    height_standard_uncertainty_mm = NumberField()
    floats = ComputeFloatInput(many=True, max_length=MOST_FLOATS)
    specimens = ComputeSpecimenInput(many=True, max_length=MOST_SPECIMENS, required=False)
    column = ComputeColumnInput(required=False)


class ComputedFloatSerializer(serializers.Serializer):
    id = serializers.CharField()
    residual_g_cm3 = NumberField(allow_null=True)
    residual_mm = NumberField(allow_null=True)
    studentised_residual = NumberField(allow_null=True)


class ComputedGapSerializer(serializers.Serializer):
    lower_float = serializers.CharField()
    upper_float = serializers.CharField()
    length_mm = NumberField()
    slope_g_cm3_per_mm = NumberField()


class ComputedBracketingSerializer(serializers.Serializer):
    density_g_cm3 = NumberField()
    standard_uncertainty_g_cm3 = NumberField()
    lower_float = serializers.CharField()
    upper_float = serializers.CharField()


class ComputedCurveSerializer(serializers.Serializer):
    density_g_cm3 = NumberField()
    standard_uncertainty_g_cm3 = NumberField()
    interval_95 = serializers.ListField(child=NumberField(), min_length=2, max_length=2)


class ComputedSpecimenSerializer(serializers.Serializer):
    id = serializers.CharField()
    outcome = serializers.ChoiceField(["measured", "lighter", "denser"])
    bound_float = serializers.CharField(allow_null=True)
    bracketing = ComputedBracketingSerializer(allow_null=True)
    curve = ComputedCurveSerializer(allow_null=True)
    findings = FigureFindingSerializer(many=True)


class CalibrationComputedSerializer(serializers.Serializer):
    """Unrounded numbers."""

    findings = FigureFindingSerializer(many=True)
    correlation = NumberField()
    sensitivity_g_cm3_per_mm = NumberField()
    floats = ComputedFloatSerializer(many=True)
    gaps = ComputedGapSerializer(many=True)
    specimens = ComputedSpecimenSerializer(many=True)


class CalibrationComputeView(LabView):
    """Calibrate a column from one float set and give densities at heights; nothing is kept."""

    serializer_class = CalibrationComputedSerializer
    required_action = {"POST": Action.COMPUTE}

    @extend_schema(request=CalibrationComputeInput, responses=CalibrationComputedSerializer)
    def post(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        asked = self.read(CalibrationComputeInput)
        try:
            calibration = _calibrated(asked)
            specimens = [
                calibration.density_at(each["height_mm"], id=each["id"])
                for each in asked.get("specimens", [])
            ]
        except PhysicsError as error:
            raise as_refusal(error, field="floats") from error
        return Response(self.represent(_answer(calibration, specimens)))


def _calibrated(asked: dict[str, Any]) -> physics.Calibration:
    column = asked.get("column")
    return physics.calibrate(
        [physics.FloatReading(**each) for each in asked["floats"]],
        origin=asked["origin"],
        height_standard_uncertainty_mm=asked["height_standard_uncertainty_mm"],
        liquid=column
        and physics.LiquidSpan(
            bottom_mm=column["liquid_bottom_mm"], top_mm=column["liquid_top_mm"]
        ),
    )


def _answer(
    calibration: physics.Calibration, specimens: list[physics.SpecimenDensity]
) -> dict[str, Any]:
    return {
        "findings": _told(calibration.findings),
        "correlation": calibration.correlation,
        "sensitivity_g_cm3_per_mm": calibration.sensitivity_g_cm3_per_mm,
        "floats": calibration.floats,
        "gaps": calibration.gaps,
        "specimens": [
            {
                "id": each.id,
                "outcome": each.outcome,
                "bound_float": each.bound_float,
                "bracketing": each.bracketing,
                "curve": each.curve,
                "findings": _told(each.findings),
            }
            for each in specimens
        ],
    }


def _told(found: tuple[Any, ...]) -> list[dict[str, Any]]:
    return told_findings([finding_facts(each) for each in found])
