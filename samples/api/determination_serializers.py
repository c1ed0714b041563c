"""What goes out: determinations and lots, masked like the readings that they rest on."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from columns.api.serializers import BASE
from labsite.api.serializers import PersonNameSerializer
from labsite.quantities import reported, reported_uncertainty, rounded
from samples import models
from samples.api.serializers import (
    LeveledFindingSerializer,
    LotNameSerializer,
    MaskedSerializer,
    NamedSerializer,
    ResultSerializer,
    ShownSerializer,
)
from samples.findings import told
from samples.selectors.decisions import decision_word
from samples.selectors.lots import WaitsFor
from samples.selectors.occupants import working

FACTOR_PLACES = 2


class ShownMeanSerializer(ShownSerializer):
    """Both figures of the mean, the range and its limit of that day, and the factor k of U."""

    spread_g_cm3 = serializers.CharField(allow_null=True)
    spread_limit_g_cm3 = serializers.CharField(allow_null=True)
    coverage_factor = serializers.CharField(allow_null=True)


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
    shown = serializers.SerializerMethodField()
    decision = serializers.SerializerMethodField()
    findings = serializers.SerializerMethodField()
    mask_fields = (
        "density_g_cm3",
        "expanded_uncertainty_g_cm3",
        "coverage_factor",
        "spread_g_cm3",
        "reported",
        "shown",
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
            "shown",
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

    @extend_schema_field(ShownMeanSerializer(allow_null=True))
    def get_shown(self, determination: models.Determination) -> dict[str, str | None]:
        """The reported figure and the second opinion; rounded here, so that no page rounds."""
        means = determination.result_facts.get("means", {})
        figures = {
            f"{name}_g_cm3": working(Decimal(means[name])) if means.get(name) else None
            for name in ("bracketing", "curve")
        }
        spread, factor = determination.spread_g_cm3, determination.coverage_factor
        limit = determination.input_facts.get("spread_limit_g_cm3")
        return figures | {
            "spread_limit_g_cm3": None if limit is None else working(Decimal(limit)),
            "spread_g_cm3": None if spread is None else working(spread),
            "coverage_factor": None if factor is None else str(rounded(factor, FACTOR_PLACES)),
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
    waits_for = serializers.ChoiceField(choices=WaitsFor.choices, read_only=True)
    piece_count = serializers.IntegerField(read_only=True)
    unread_count = serializers.IntegerField(read_only=True)

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
            "waits_for",
            "piece_count",
            "unread_count",
        ]

    @extend_schema_field(DeterminationRowSerializer(allow_null=True))
    def get_determination(self, lot: models.Lot) -> dict[str, Any] | None:
        found = lot.shown_determinations
        if not found:
            return None
        found[0].lot = lot
        return DeterminationRowSerializer(found[0], context=self.context).data
