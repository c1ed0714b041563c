"""What goes out: recipes, grades, specimens and readings.

Whatever holds a height, a density or free words about one is masked for a person who is blind to
its lot. The view puts the ids of those lots into the context as "blind".
"""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from columns.api.serializers import BASE
from labsite.api.serializers import PersonNameSerializer
from labsite.quantities import rounded
from samples import models
from samples.constants import UNDO_WITHIN
from samples.findings import told
from samples.selectors.occupants import working


class NamedSerializer(serializers.Serializer):
    id = serializers.UUIDField(source="pk")
    name = serializers.CharField()


class LotNameSerializer(serializers.Serializer):
    id = serializers.UUIDField(source="pk")
    code = serializers.CharField()


class LeveledFindingSerializer(serializers.Serializer):
    """Something a person should know: "stop" bars a release, "look" asks for a note."""

    code = serializers.CharField()
    level = serializers.ChoiceField(choices=["stop", "look", "know"])
    text = serializers.CharField()


class MaskedSerializer(serializers.ModelSerializer):
    """Empties `mask_fields` for people who are blind to the lot, and says so in `masked`."""

    masked = serializers.SerializerMethodField()
    mask_fields: tuple[str, ...] = ()

    def lot_id(self, record: Any) -> Any:
        raise NotImplementedError

    def get_masked(self, record: Any) -> bool:
        return self.lot_id(record) in self.context["blind"]

    def to_representation(self, record: Any) -> dict[str, Any]:
        shown = super().to_representation(record)
        if shown["masked"]:
            for name in self.mask_fields:
                shown[name] = [] if isinstance(shown[name], list) else None
        return shown


class RecipeSerializer(serializers.ModelSerializer):
    class Meta:
        model = models.PreparationRecipe
        fields = [
            *BASE,
            "name",
            "form",
            "thickness_mm",
            "wait_minutes",
            "instructions",
            "retired_at",
        ]


class GradeSerializer(serializers.ModelSerializer):
    class Meta:
        model = models.Grade
        fields = [
            *BASE,
            "name",
            "recipe",
            "lower_limit_g_cm3",
            "upper_limit_g_cm3",
            "expected_density_g_cm3",
            "spread_limit_g_cm3",
            "specimens_required",
            "reported_figure",
            "repeatability_g_cm3",
            "repeatability_degrees_of_freedom",
            "expansion_per_k",
            "is_control_material",
            "retired_at",
        ]


class ShownSerializer(serializers.Serializer):
    """The figures in the places of working pages, rounded here so that no page rounds."""

    bracketing_g_cm3 = serializers.CharField(allow_null=True)
    curve_g_cm3 = serializers.CharField(allow_null=True)


def _working(density: Any) -> str | None:
    return None if density is None else working(density)


class ResultSerializer(serializers.ModelSerializer):
    """Both figures of a reading, with the calibration and method that gave them."""

    bound_float = serializers.CharField(source="bound_float.label", default=None, allow_null=True)
    lower_float = serializers.SerializerMethodField()
    upper_float = serializers.SerializerMethodField()
    curve_interval_95_g_cm3 = serializers.SerializerMethodField()
    reason = serializers.SerializerMethodField()
    findings = serializers.SerializerMethodField()
    shown = serializers.SerializerMethodField()

    class Meta:
        model = models.DensityResult
        fields = [
            "id",
            "outcome",
            "bound_float",
            "shown",
            "bracketing_g_cm3",
            "bracketing_u_g_cm3",
            "lower_float",
            "upper_float",
            "curve_g_cm3",
            "curve_u_g_cm3",
            "curve_interval_95_g_cm3",
            "calibration",
            "method_version",
            "reason",
            "findings",
        ]

    def get_lower_float(self, result: models.DensityResult) -> str | None:
        return result.result_facts.get("lower_float")

    def get_upper_float(self, result: models.DensityResult) -> str | None:
        return result.result_facts.get("upper_float")

    def get_curve_interval_95_g_cm3(self, result: models.DensityResult) -> list[str] | None:
        return result.result_facts.get("curve", {}).get("interval_95_g_cm3")

    @extend_schema_field(ShownSerializer())
    def get_shown(self, result: models.DensityResult) -> dict[str, str | None]:
        return {
            "bracketing_g_cm3": _working(result.bracketing_g_cm3),
            "curve_g_cm3": _working(result.curve_g_cm3),
        }

    def get_reason(self, result: models.DensityResult) -> str | None:
        """Why there is no calibration in force, as a code."""
        return next((each["why"] for each in result.finding_list if "why" in each), None)

    @extend_schema_field(LeveledFindingSerializer(many=True))
    def get_findings(self, result: models.DensityResult) -> list[dict[str, str]]:
        return told(result.finding_list)


class ReadingSerializer(MaskedSerializer):
    read_by = PersonNameSerializer(read_only=True)
    entered_by = PersonNameSerializer(read_only=True, allow_null=True)
    outcome = serializers.ChoiceField(
        choices=models.Reading.Outcome.choices, read_only=True, allow_null=True
    )
    undo_until_at = serializers.SerializerMethodField()
    result = serializers.SerializerMethodField()
    # Free words may hold a height ("misread, it is 456"); the tapped gap is one roughly.
    mask_fields = (
        "outcome",
        "height_mm",
        "gap_upper_float",
        "gap_lower_float",
        "late_reason",
        "note",
        "amend_reason",
        "withdraw_reason",
        "result",
    )

    class Meta:
        model = models.Reading
        fields = [
            *BASE,
            "specimen",
            "read_at",
            "read_by",
            "entered_by",
            "outcome",
            "height_mm",
            "gap_upper_float",
            "gap_lower_float",
            "source",
            "density_seen",
            "found_with_help",
            "late_reason",
            "note",
            "amends",
            "amend_reason",
            "replaced_at",
            "withdrawn_at",
            "withdraw_reason",
            "undo_until_at",
            "result",
            "masked",
        ]
        extra_kwargs = {
            name: {"allow_null": True} for name in ("late_reason", "note", "amend_reason")
        } | {"withdraw_reason": {"allow_null": True}}

    def lot_id(self, reading: models.Reading) -> Any:
        return reading.specimen.lot_id

    def get_undo_until_at(self, reading: models.Reading) -> datetime:
        return reading.created_at + UNDO_WITHIN

    @extend_schema_field(ResultSerializer(allow_null=True))
    def get_result(self, reading: models.Reading) -> dict[str, Any] | None:
        found = reading.shown_results
        return ResultSerializer(found[0], context=self.context).data if found else None


class ExpectationSerializer(serializers.Serializer):
    """Shown with one's own saved reading, once nothing of the lot is left to be read blindly."""

    density_g_cm3 = serializers.DecimalField(max_digits=8, decimal_places=6)
    height_mm = serializers.FloatField(allow_null=True)
    shown_height_mm = serializers.SerializerMethodField()

    @extend_schema_field(serializers.CharField(allow_null=True))
    def get_shown_height_mm(self, expected: dict[str, Any]) -> str | None:
        height = expected["height_mm"]
        return None if height is None else str(rounded(Decimal(str(height)), 0))


class SavedReadingSerializer(ReadingSerializer):
    """The answer to saving: one's own height and density, never masked for oneself."""

    expected = serializers.SerializerMethodField()
    unread_of_lot = serializers.SerializerMethodField()

    class Meta(ReadingSerializer.Meta):
        fields = [*ReadingSerializer.Meta.fields, "expected", "unread_of_lot"]

    def get_masked(self, reading: models.Reading) -> bool:
        return False

    @extend_schema_field(ExpectationSerializer(allow_null=True))
    def get_expected(self, reading: models.Reading) -> dict[str, Any] | None:
        expected = reading.afterwards.expected
        return ExpectationSerializer(expected).data if expected else None

    def get_unread_of_lot(self, reading: models.Reading) -> int:
        return reading.afterwards.unread_of_lot


class SpecimenSerializer(MaskedSerializer):
    lot = LotNameSerializer(read_only=True)
    column = NamedSerializer(source="fill.column", read_only=True)
    dropped_by = PersonNameSerializer(read_only=True)
    taken_over_by = PersonNameSerializer(read_only=True, allow_null=True)
    due_at = serializers.SerializerMethodField()
    seen_readings = serializers.SerializerMethodField()
    readings = serializers.SerializerMethodField()

    class Meta:
        model = models.Specimen
        fields = [
            *BASE,
            "lot",
            "number",
            "fill",
            "column",
            "shape",
            "form",
            "thickness_mm",
            "dropped_at",
            "dropped_by",
            "taken_over_by",
            "ready_at",
            "second_look_at",
            "due_at",
            "override_reason",
            "removed_at",
            "removed_in",
            "seen_readings",
            "readings",
            "masked",
        ]

    def lot_id(self, specimen: models.Specimen) -> Any:
        return specimen.lot_id

    def get_due_at(self, specimen: models.Specimen) -> datetime:
        """When it may be read next; of a film after its first look, when it is seen again."""
        at_rest = any(r.outcome == models.Reading.Outcome.AT_REST for r in _standing(specimen))
        return (specimen.second_look_at if at_rest else None) or specimen.ready_at

    def get_seen_readings(self, specimen: models.Specimen) -> int:
        """To be sent with the next reading: how many readings of it stand."""
        return len(_standing(specimen))

    @extend_schema_field(ReadingSerializer(many=True))
    def get_readings(self, specimen: models.Specimen) -> list[dict[str, Any]]:
        for reading in specimen.shown_readings:
            reading.specimen = specimen
        return ReadingSerializer(specimen.shown_readings, many=True, context=self.context).data


def _standing(specimen: models.Specimen) -> list[models.Reading]:
    return [
        reading
        for reading in specimen.shown_readings
        if reading.withdrawn_at is None and reading.replaced_at is None
    ]
