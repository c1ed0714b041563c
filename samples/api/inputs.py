"""What comes in: strictly read, no rule of the lab in here."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from columns.api.inputs import NothingInput, ReasonInput, density, record
from columns.models import CalibrationFloat, Column, Fill
from labsite.api.fields import (
    InstantField,
    LineField,
    StrictSerializer,
    TextField,
    TypedDecimalField,
)
from samples.models import Grade, Lot, PreparationRecipe, Reading, Specimen
from samples.models.grades import Form

__all__ = ["NothingInput", "ReasonInput"]


def optional(**options: Any) -> dict[str, Any]:
    return {"required": False, "allow_null": True, **options}


class RecipeInput(StrictSerializer):
    name = LineField(max_length=80)
    form = serializers.ChoiceField(choices=Form.choices)
    thickness_mm = TypedDecimalField(max_digits=6, decimal_places=3, **optional())
    wait_minutes = serializers.IntegerField(**optional())
    instructions = TextField(required=False, allow_blank=True)


class RecipeChange(RecipeInput, ReasonInput):
    pass


class GradeInput(StrictSerializer):
    name = LineField(max_length=80)
    recipe = record(PreparationRecipe)
    lower_limit_g_cm3 = density(**optional())
    upper_limit_g_cm3 = density(**optional())
    one_sided = serializers.BooleanField(
        required=False, help_text=_("the grade has one limit only, on purpose")
    )
    expected_density_g_cm3 = density()
    spread_limit_g_cm3 = density()
    specimens_required = serializers.IntegerField(required=False)
    reported_figure = serializers.ChoiceField(choices=Grade.Figure.choices, required=False)
    repeatability_g_cm3 = TypedDecimalField(max_digits=9, decimal_places=7, **optional())
    repeatability_degrees_of_freedom = serializers.IntegerField(max_value=32767, **optional())
    expansion_per_k = TypedDecimalField(max_digits=9, decimal_places=7, **optional())
    is_control_material = serializers.BooleanField(required=False)


class GradeChange(GradeInput, ReasonInput):
    pass


class LotInput(StrictSerializer):
    code = LineField(max_length=80)
    grade = record(Grade)
    received_at = InstantField(required=False)
    note = TextField(required=False, allow_blank=True)
    confirmed = serializers.BooleanField(
        required=False, help_text=_("the code is right although it looks like a date")
    )


class LotChange(ReasonInput):
    grade = record(Grade, required=False)
    note = TextField(required=False, allow_blank=True)


class SpecimensInput(StrictSerializer):
    """One specimen for each shape, dropped at the same time."""

    lot = record(Lot)
    fill = record(Fill)
    shapes = serializers.ListField(
        child=serializers.ChoiceField(choices=Specimen.Shape.choices), min_length=1, max_length=20
    )
    form = serializers.ChoiceField(choices=Form.choices, required=False)
    thickness_mm = TypedDecimalField(max_digits=6, decimal_places=3, **optional())
    dropped_at = InstantField(required=False)
    override_reason = TextField(required=False, allow_blank=True)


class SpecimensChosen(StrictSerializer):
    specimens = serializers.ListField(child=record(Specimen), min_length=1, max_length=20)


GAP = ("gap_upper_float", "gap_lower_float")


class HeightInput(StrictSerializer):
    outcome = serializers.ChoiceField(choices=Reading.Outcome.choices)
    height_mm = TypedDecimalField(max_digits=10, decimal_places=2, **optional())
    gap_upper_float = serializers.UUIDField(**optional())
    gap_lower_float = serializers.UUIDField(**optional())

    def validate(self, data: dict[str, Any]) -> dict[str, Any]:
        """Both floats are found in one query."""
        named = {name: data[name] for name in GAP if data.get(name) is not None}
        floats = CalibrationFloat.objects.in_bulk(set(named.values())) if named else {}
        unknown = [name for name, key in named.items() if key not in floats]
        if unknown:
            raise serializers.ValidationError({n: [_("There is no such float.")] for n in unknown})
        return {**data, **{name: floats[key] for name, key in named.items()}}


class ReadingInput(HeightInput):
    specimen = serializers.UUIDField()
    read_at = InstantField(required=False)
    late_reason = TextField(required=False, allow_blank=True)
    found_with_help = serializers.BooleanField(required=False)
    note = TextField(required=False, allow_blank=True)
    seen_readings = serializers.IntegerField(
        required=False,
        default=0,
        min_value=0,
        max_value=1000,
        help_text=_("how many readings of the specimen were shown when this one was typed"),
    )


class ReadingAmendment(HeightInput, ReasonInput):
    outcome = serializers.ChoiceField(choices=Reading.Outcome.choices, required=False)


class SetAsideInput(StrictSerializer):
    specimen = serializers.UUIDField()
    reason = TextField(help_text=_("why it does not count"))


class SelectionInput(StrictSerializer):
    counted = serializers.ListField(
        child=record(Specimen), required=False, max_length=50,
        help_text=_("without it, every specimen with a density that is not set aside"),
    )  # fmt: skip
    set_aside = SetAsideInput(many=True, required=False, max_length=50)

    def validate_set_aside(self, rows: list[dict[str, Any]]) -> dict[Any, str]:
        return {row["specimen"]: row["reason"] for row in rows}


class DeterminationInput(SelectionInput):
    lot = record(Lot)
    repeat_because = TextField(required=False, allow_blank=True)


class DeterminationAmendment(SelectionInput, ReasonInput):
    pass


class ReleaseInput(StrictSerializer):
    note = TextField(required=False, allow_blank=True)


class AdviceQuery(serializers.Serializer):
    lot = record(Lot)
    column = record(Column, required=False)
