"""What comes in: strictly read, no rule of the lab in here."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from columns import models
from labsite.accounts.models import User
from labsite.api.fields import (
    InstantField,
    LineField,
    RecordField,
    StrictSerializer,
    TextField,
    TypedDecimalField,
)


def record(model: type, **options: object) -> RecordField:
    return RecordField(queryset=model.objects.all(), **options)


def height(**options: object) -> TypedDecimalField:
    return TypedDecimalField(max_digits=6, decimal_places=1, **options)


def density(**options: object) -> TypedDecimalField:
    # wide enough that 950 (kg/m³) reaches the rule, which asks about the unit
    return TypedDecimalField(max_digits=12, decimal_places=6, **options)


def temperature(**options: object) -> TypedDecimalField:
    return TypedDecimalField(max_digits=8, decimal_places=2, **options)


class NothingInput(StrictSerializer):
    """An empty body."""


class ReasonInput(StrictSerializer):
    """A change tells why, a partial one as well."""

    reason = TextField(help_text=_("why, in a few words"))

    def validate(self, data: dict[str, Any]) -> dict[str, Any]:
        if "reason" not in data:
            raise serializers.ValidationError({"reason": [_("Say why in a few words.")]})
        return data


class BathInput(StrictSerializer):
    name = LineField(max_length=60)
    setpoint_c = temperature(required=False)
    tolerance_c = TypedDecimalField(max_digits=4, decimal_places=2, required=False)
    note = TextField(required=False, allow_blank=True)


class BathChange(BathInput, ReasonInput):
    pass


class ThermometerInput(StrictSerializer):
    name = LineField(max_length=60)
    bath = record(models.Bath, required=False, allow_null=True)
    certificate_number = LineField(max_length=80, required=False, allow_blank=True)
    issuer = LineField(max_length=120, required=False, allow_blank=True)
    expanded_uncertainty_c = TypedDecimalField(
        max_digits=6, decimal_places=4, required=False, allow_null=True
    )
    coverage_factor = TypedDecimalField(max_digits=4, decimal_places=2, required=False)
    issued_on = serializers.DateField(required=False, allow_null=True)
    valid_until = serializers.DateField(required=False, allow_null=True)


class ThermometerChange(ThermometerInput, ReasonInput):
    pass


class TemperatureInput(StrictSerializer):
    temperature_c = temperature()
    measured_at = InstantField(required=False)
    thermometer = record(models.Thermometer, required=False, allow_null=True)


class TemperatureAmendment(ReasonInput):
    temperature_c = temperature()


class ColumnInput(StrictSerializer):
    name = LineField(max_length=40)
    bath = record(models.Bath)
    place = serializers.IntegerField(min_value=1, max_value=99, required=False)
    scale_origin = serializers.ChoiceField(models.Column.Origin.choices, required=False)
    scale_length_mm = height(required=False)
    scale_division_mm = TypedDecimalField(max_digits=4, decimal_places=2, required=False)
    readable_low_mm = height(required=False)
    readable_high_mm = height(required=False)
    bore_mm = TypedDecimalField(max_digits=5, decimal_places=1, required=False)


class ColumnChange(ColumnInput, ReasonInput):
    pass


class LiquidPairInput(StrictSerializer):
    name = LineField(max_length=80)
    light_liquid = LineField(max_length=80)
    heavy_liquid = LineField(max_length=80)
    density_low_g_cm3 = density()
    density_high_g_cm3 = density()
    cautions = TextField(required=False, allow_blank=True)
    source = LineField(max_length=200, required=False, allow_blank=True)


class LiquidPairChange(LiquidPairInput, ReasonInput):
    pass


class FillInput(StrictSerializer):
    column = record(models.Column)
    pair = record(models.LiquidPair)
    density_top_g_cm3 = density()
    density_bottom_g_cm3 = density()
    note = TextField(required=False, allow_blank=True)


class FillChange(ReasonInput):
    pair = record(models.LiquidPair, required=False)
    density_top_g_cm3 = density(required=False)
    density_bottom_g_cm3 = density(required=False)
    note = TextField(required=False, allow_blank=True)


class PourInput(StrictSerializer):
    poured_at = InstantField(required=False)
    liquid_bottom_mm = height(required=False, allow_null=True)
    liquid_top_mm = height(required=False, allow_null=True)


class SettleInput(StrictSerializer):
    settling_at = InstantField(required=False)


class OpenInput(StrictSerializer):
    early_reason = TextField(required=False, allow_blank=True)


class DrainInput(ReasonInput):
    drained_at = InstantField(required=False)


class HoldInput(ReasonInput):
    fill = record(models.Fill)
    lifts_when = TextField()


class BasketPassInput(StrictSerializer):
    fill = record(models.Fill)
    purpose = serializers.ChoiceField(models.BasketPass.Purpose.choices, required=False)
    travel_mm = height(required=False)
    started_at = InstantField(required=False)


class BasketPassFinish(StrictSerializer):
    ended_at = InstantField(required=False)
    floats_out = serializers.IntegerField(min_value=0, max_value=99, required=False)
    floats_in = serializers.IntegerField(min_value=0, max_value=99, required=False)
    note = TextField(required=False, allow_blank=True)


class CalibrationFloatInput(StrictSerializer):
    label = LineField(max_length=20)
    note = TextField(required=False, allow_blank=True)


class CalibrationFloatChange(CalibrationFloatInput, ReasonInput):
    pass


class QuarantineInput(ReasonInput):
    from_at = InstantField(required=False)


class CertificateInput(StrictSerializer):
    calibration_float = record(models.CalibrationFloat)
    number = LineField(max_length=80)
    issuer = LineField(max_length=120)
    density_g_cm3 = density()
    expanded_uncertainty_g_cm3 = TypedDecimalField(max_digits=12, decimal_places=7)
    coverage_factor = TypedDecimalField(max_digits=4, decimal_places=2, required=False)
    common_standard_uncertainty_g_cm3 = TypedDecimalField(
        max_digits=12, decimal_places=7, required=False
    )
    issued_on = serializers.DateField()
    valid_until = serializers.DateField()


class CertificateChange(CertificateInput, ReasonInput):
    calibration_float = None


class DocumentInput(StrictSerializer):
    document = serializers.FileField(allow_empty_file=True, max_length=200)


class PlacementInput(StrictSerializer):
    calibration_float = record(models.CalibrationFloat)
    fill = record(models.Fill)
    placed_at = InstantField(required=False)


class RemovalInput(ReasonInput):
    removed_at = InstantField(required=False)


class FloatHeightInput(StrictSerializer):
    calibration_float = serializers.UUIDField()
    height_mm = TypedDecimalField(max_digits=8, decimal_places=2, required=False, allow_null=True)
    missing_reason = LineField(max_length=200, required=False, allow_blank=True)


class HeightsInput(StrictSerializer):
    """The lines of a float set; all floats are found in one query."""

    heights = FloatHeightInput(many=True, max_length=60)

    def validate_heights(self, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        floats = models.CalibrationFloat.objects.in_bulk([r["calibration_float"] for r in rows])
        unknown = {
            index: {"calibration_float": [_("There is no such float.")]}
            for index, row in enumerate(rows)
            if row["calibration_float"] not in floats
        }
        if unknown:
            raise serializers.ValidationError([unknown.get(i, {}) for i in range(len(rows))])
        return [{**row, "calibration_float": floats[row["calibration_float"]]} for row in rows]


class FloatSetInput(HeightsInput):
    fill = record(models.Fill)
    bath_temperature_c = temperature()
    read_at = InstantField(required=False)
    thermometer = record(models.Thermometer, required=False, allow_null=True)
    note = TextField(required=False, allow_blank=True)


class FloatSetAmendment(HeightsInput, ReasonInput):
    heights = FloatHeightInput(many=True, required=False, max_length=60)
    bath_temperature_c = temperature(required=False)


class RulesChange(ReasonInput):
    calibration_max_age_hours = serializers.IntegerField(required=False)
    minimum_floats = serializers.IntegerField(required=False)
    pass_hold_off_hours = serializers.IntegerField(required=False)
    settling_minimum_hours = serializers.IntegerField(required=False)
    settling_agreement_mm = TypedDecimalField(max_digits=4, decimal_places=1, required=False)
    height_repeatability_mm = TypedDecimalField(max_digits=4, decimal_places=2, required=False)
    late_entry_minutes = serializers.IntegerField(required=False)


class RepeatabilityInput(StrictSerializer):
    person = record(User)
    standard_deviation_mm = TypedDecimalField(max_digits=4, decimal_places=2)
    source = LineField(max_length=200)


class AtInput(serializers.Serializer):
    at = InstantField(required=False)
