"""What goes out: recipes, grades, lots, specimens, readings and determinations.

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
from labsite.quantities import reported, reported_uncertainty, rounded
from samples import models
from samples.constants import UNDO_WITHIN
from samples.findings import told
from samples.selectors.decisions import decision_word
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


class DecisionSerializer(serializers.Serializer):
    """Without limits there is no rule; that is never a pass."""

    code = serializers.ChoiceField(choices=["no_rule", "not_decided"])
    word = serializers.CharField()


class ReportedSerializer(serializers.Serializer):
    """The figures as printed: four places, rounded from the stored ones; U rounded up."""

    density_g_cm3 = serializers.CharField()
    expanded_uncertainty_g_cm3 = serializers.CharField()


class DeterminationRowSerializer(MaskedSerializer):
    """A determination as in lists."""

    lot = LotNameSerializer(read_only=True)
    prepared_by = PersonNameSerializer(read_only=True)
    released_by = PersonNameSerializer(read_only=True, allow_null=True)
    reported = serializers.SerializerMethodField()
    decision = serializers.SerializerMethodField()
    findings = serializers.SerializerMethodField()
    mask_fields = (
        "density_g_cm3",
        "expanded_uncertainty_g_cm3",
        "coverage_factor",
        "spread_g_cm3",
        "reported",
        "findings",
        "repeat_because",
        "release_note",
        "amend_reason",
        "to_be_amended_because",
    )

    class Meta:
        model = models.Determination
        fields = [
            *BASE,
            "lot",
            "number",
            "issue",
            "status",
            "figure",
            "method_version",
            "specimens_counted",
            "density_g_cm3",
            "expanded_uncertainty_g_cm3",
            "coverage_factor",
            "spread_g_cm3",
            "reported",
            "decision",
            "findings",
            "repeat_because",
            "prepared_at",
            "prepared_by",
            "released_at",
            "released_by",
            "release_note",
            "amends",
            "amend_reason",
            "to_be_amended_because",
            "masked",
        ]
        extra_kwargs = {
            name: {"allow_null": True}
            for name in ("repeat_because", "release_note", "amend_reason", "to_be_amended_because")
        }

    def lot_id(self, determination: models.Determination) -> Any:
        return determination.lot_id

    @extend_schema_field(ReportedSerializer(allow_null=True))
    def get_reported(self, determination: models.Determination) -> dict[str, str] | None:
        if determination.density_g_cm3 is None:
            return None
        return {
            "density_g_cm3": str(reported(determination.density_g_cm3)),
            "expanded_uncertainty_g_cm3": str(
                reported_uncertainty(determination.expanded_uncertainty_g_cm3)
            ),
        }

    @extend_schema_field(DecisionSerializer())
    def get_decision(self, determination: models.Determination) -> dict[str, str]:
        code = determination.result_facts["decision"]["code"]
        return {"code": code, "word": decision_word(code)}

    @extend_schema_field(LeveledFindingSerializer(many=True))
    def get_findings(self, determination: models.Determination) -> list[dict[str, str]]:
        return told(determination.finding_list)


class PartSerializer(serializers.ModelSerializer):
    """One specimen's density in a determination."""

    specimen = serializers.UUIDField(source="result.reading.specimen_id")
    number = serializers.IntegerField(source="result.reading.specimen.number")
    shape = serializers.CharField(source="result.reading.specimen.shape")
    column = NamedSerializer(source="result.reading.specimen.fill.column")
    reading = serializers.UUIDField(source="result.reading_id")
    height_mm = serializers.DecimalField(
        source="result.reading.height_mm", max_digits=6, decimal_places=2, allow_null=True
    )
    read_at = serializers.DateTimeField(source="result.reading.read_at")
    read_by = PersonNameSerializer(source="result.reading.read_by")
    result = ResultSerializer()

    class Meta:
        model = models.DeterminationPart
        fields = [
            "specimen",
            "number",
            "shape",
            "column",
            "reading",
            "height_mm",
            "read_at",
            "read_by",
            "is_counted",
            "set_aside_reason",
            "result",
        ]


class BudgetPartSerializer(serializers.Serializer):
    """One part of the uncertainty; no degrees of freedom means without end."""

    name = serializers.CharField()
    standard_uncertainty_g_cm3 = serializers.CharField()
    degrees_of_freedom = serializers.CharField(allow_null=True)
    share = serializers.CharField()
    basis = serializers.CharField()


class DeterminationSerializer(DeterminationRowSerializer):
    """A determination with its specimens and the budget of its uncertainty."""

    parts = serializers.SerializerMethodField()
    budget = serializers.SerializerMethodField()
    amended_by = serializers.SerializerMethodField()
    mask_fields = (*DeterminationRowSerializer.mask_fields, "parts", "budget")

    class Meta(DeterminationRowSerializer.Meta):
        fields = [*DeterminationRowSerializer.Meta.fields, "parts", "budget", "amended_by"]

    @extend_schema_field(PartSerializer(many=True))
    def get_parts(self, determination: models.Determination) -> list[dict[str, Any]]:
        return PartSerializer(determination.shown_parts, many=True).data

    @extend_schema_field(BudgetPartSerializer(many=True))
    def get_budget(self, determination: models.Determination) -> list[dict[str, Any]]:
        return determination.result_facts.get("budget", [])

    @extend_schema_field(serializers.UUIDField(allow_null=True))
    def get_amended_by(self, determination: models.Determination) -> Any:
        newer = getattr(determination, "amended_by", None)
        return newer and newer.pk


class LotSerializer(serializers.ModelSerializer):
    """A lot with its last determination that stands, if there is one."""

    grade = NamedSerializer(read_only=True)
    registered_by = PersonNameSerializer(read_only=True)
    tail = serializers.CharField(read_only=True)
    determination = serializers.SerializerMethodField()

    class Meta:
        model = models.Lot
        fields = [
            *BASE,
            "code",
            "tail",
            "grade",
            "received_at",
            "registered_by",
            "note",
            "determination",
        ]

    @extend_schema_field(DeterminationRowSerializer(allow_null=True))
    def get_determination(self, lot: models.Lot) -> dict[str, Any] | None:
        found = lot.shown_determinations
        if not found:
            return None
        found[0].lot = lot
        return DeterminationRowSerializer(found[0], context=self.context).data
