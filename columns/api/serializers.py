"""What goes out: columns and what belongs to them."""

from __future__ import annotations

from typing import Any

from django.utils.timezone import localdate
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from columns import findings, models
from columns.selectors.certificates import findings_of
from columns.selectors.flags import flag_text
from labsite.api.serializers import (
    FigureFindingSerializer,
    PersonNameSerializer,
    RefusalReasonSerializer,
)

BASE = ["id", "version", "created_at"]


def told_findings(facts: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Stored findings as code, sentence and float."""
    return [
        {
            "code": each["code"],
            "message": findings.sentence(each),
            "float": each.get("float") or None,
        }
        for each in facts
    ]


class BathSerializer(serializers.ModelSerializer):
    class Meta:
        model = models.Bath
        fields = [*BASE, "name", "setpoint_c", "tolerance_c", "note", "retired_at"]


class ThermometerSerializer(serializers.ModelSerializer):
    class Meta:
        model = models.Thermometer
        fields = [
            *BASE,
            "name",
            "bath",
            "certificate_number",
            "issuer",
            "expanded_uncertainty_c",
            "coverage_factor",
            "issued_on",
            "valid_until",
        ]


class TemperatureSerializer(serializers.ModelSerializer):
    measured_by = PersonNameSerializer(read_only=True)

    class Meta:
        model = models.BathTemperature
        fields = [
            *BASE,
            "bath",
            "measured_at",
            "temperature_c",
            "thermometer",
            "measured_by",
            "source",
            "is_in_tolerance",
            "amends",
            "amend_reason",
            "replaced_at",
        ]


class ColumnSerializer(serializers.ModelSerializer):
    class Meta:
        model = models.Column
        fields = [
            *BASE,
            "name",
            "bath",
            "place",
            "scale_origin",
            "scale_length_mm",
            "scale_division_mm",
            "readable_low_mm",
            "readable_high_mm",
            "bore_mm",
            "retired_at",
        ]


class LiquidPairSerializer(serializers.ModelSerializer):
    class Meta:
        model = models.LiquidPair
        fields = [
            *BASE,
            "name",
            "light_liquid",
            "heavy_liquid",
            "density_low_g_cm3",
            "density_high_g_cm3",
            "cautions",
            "source",
        ]


class FillSerializer(serializers.ModelSerializer):
    class Meta:
        model = models.Fill
        fields = [
            *BASE,
            "column",
            "pair",
            "state",
            "density_top_g_cm3",
            "density_bottom_g_cm3",
            "liquid_bottom_mm",
            "liquid_top_mm",
            "poured_at",
            "settling_at",
            "opened_at",
            "drained_at",
            "note",
        ]


class StandingSerializer(serializers.Serializer):
    """How a fill stands now: the derived state, and why it is not open."""

    state = serializers.CharField()
    word = serializers.CharField()
    note = serializers.CharField()
    findings = RefusalReasonSerializer(many=True)
    calibration = serializers.UUIDField(source="calibration.pk", allow_null=True, default=None)
    valid_until_at = serializers.DateTimeField(allow_null=True)
    missing_to_open = RefusalReasonSerializer(many=True)


class HoldSerializer(serializers.ModelSerializer):
    placed_by = PersonNameSerializer(read_only=True)
    lifted_by = PersonNameSerializer(read_only=True, allow_null=True)

    class Meta:
        model = models.Hold
        fields = [
            *BASE,
            "fill",
            "kind",
            "reason",
            "lifts_when",
            "placed_at",
            "placed_by",
            "lifted_at",
            "lifted_by",
            "lift_reason",
        ]


class BasketPassSerializer(serializers.ModelSerializer):
    started_by = PersonNameSerializer(read_only=True)
    ended_by = PersonNameSerializer(read_only=True, allow_null=True)

    class Meta:
        model = models.BasketPass
        fields = [
            *BASE,
            "fill",
            "purpose",
            "travel_mm",
            "started_at",
            "started_by",
            "ended_at",
            "ended_by",
            "floats_out",
            "floats_in",
            "note",
        ]


class QuarantineSerializer(serializers.ModelSerializer):
    placed_by = PersonNameSerializer(read_only=True)
    lifted_by = PersonNameSerializer(read_only=True, allow_null=True)

    class Meta:
        model = models.FloatQuarantine
        fields = [
            *BASE,
            "calibration_float",
            "from_at",
            "reason",
            "placed_by",
            "lifted_at",
            "lifted_by",
            "lift_reason",
        ]


class CertificateSerializer(serializers.ModelSerializer):
    has_document = serializers.SerializerMethodField()
    findings = serializers.SerializerMethodField()

    class Meta:
        model = models.Certificate
        fields = [
            *BASE,
            "calibration_float",
            "number",
            "issuer",
            "density_g_cm3",
            "expanded_uncertainty_g_cm3",
            "coverage_factor",
            "common_standard_uncertainty_g_cm3",
            "issued_on",
            "valid_until",
            "has_document",
            "document_sha256",
            "findings",
        ]

    def get_has_document(self, certificate: models.Certificate) -> bool:
        return bool(certificate.document)

    @extend_schema_field(FigureFindingSerializer(many=True))
    def get_findings(self, certificate: models.Certificate) -> list[dict[str, Any]]:
        return told_findings(findings_of(certificate))


class CertificateRowSerializer(CertificateSerializer):
    """As in lists, without findings."""

    findings = None

    class Meta(CertificateSerializer.Meta):
        fields = [name for name in CertificateSerializer.Meta.fields if name != "findings"]


class CalibrationFloatSerializer(serializers.ModelSerializer):
    """A float with the certificate that is valid today, and where it is."""

    certificate = serializers.SerializerMethodField()
    fill = serializers.SerializerMethodField()
    is_quarantined = serializers.SerializerMethodField()

    class Meta:
        model = models.CalibrationFloat
        fields = [*BASE, "label", "note", "retired_at", "certificate", "fill", "is_quarantined"]

    @extend_schema_field(CertificateRowSerializer(allow_null=True))
    def get_certificate(self, each: models.CalibrationFloat) -> dict[str, Any] | None:
        today = localdate()
        valid = [c for c in each.certificates.all() if c.issued_on <= today <= c.valid_until]
        newest = max(valid, key=lambda c: (c.issued_on, c.created_at), default=None)
        return CertificateRowSerializer(newest).data if newest else None

    @extend_schema_field(serializers.UUIDField(allow_null=True))
    def get_fill(self, each: models.CalibrationFloat) -> Any:
        present = (p.fill_id for p in each.placements.all() if p.removed_at is None)
        return next(present, None)

    def get_is_quarantined(self, each: models.CalibrationFloat) -> bool:
        return any(q.lifted_at is None for q in each.quarantines.all())


class PlacementSerializer(serializers.ModelSerializer):
    label = serializers.CharField(source="calibration_float.label", read_only=True)
    placed_by = PersonNameSerializer(read_only=True)
    removed_by = PersonNameSerializer(read_only=True, allow_null=True)

    class Meta:
        model = models.FloatPlacement
        fields = [
            *BASE,
            "calibration_float",
            "label",
            "fill",
            "placed_at",
            "placed_by",
            "removed_at",
            "removed_by",
            "removal_reason",
        ]


class FlagSerializer(serializers.ModelSerializer):
    text = serializers.SerializerMethodField()

    class Meta:
        model = models.ColumnFlag
        fields = [*BASE, "column", "fill", "kind", "text", "raised_at", "cleared_at"]

    def get_text(self, flag: models.ColumnFlag) -> str:
        return flag_text(flag)


class RulesSerializer(serializers.ModelSerializer):
    class Meta:
        model = models.LabRules
        fields = [
            *BASE,
            "calibration_max_age_hours",
            "minimum_floats",
            "pass_hold_off_hours",
            "settling_minimum_hours",
            "settling_agreement_mm",
            "height_repeatability_mm",
            "late_entry_minutes",
        ]


class RepeatabilitySerializer(serializers.ModelSerializer):
    person = PersonNameSerializer(read_only=True)

    class Meta:
        model = models.ReaderRepeatability
        fields = [*BASE, "person", "standard_deviation_mm", "source"]
