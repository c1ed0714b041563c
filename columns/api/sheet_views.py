"""The empty sheet of a float set."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers as s
from rest_framework.response import Response

from columns.api.serializers import BathSerializer, ThermometerSerializer
from columns.api.shown_figures import typed
from columns.models import Column, Fill
from columns.selectors.float_sheets import float_sheet
from labsite.accounts.roles import Action
from labsite.api.views import LabView
from labsite.clock import SYSTEM_CLOCK
from labsite.quantities import REPORTED_PLACES


@extend_schema_field(s.CharField())
class PlainFigure(s.Field):
    """A typed decimal as text, with at least `least` places and no further zeros."""

    def __init__(self, *, least: int = 0, **options: Any) -> None:
        super().__init__(**options)
        self.least = least

    def to_representation(self, value: Any) -> str:
        return typed(value, self.least)


class SheetColumnSerializer(s.Serializer):
    id = s.UUIDField()
    name = s.CharField()


class SheetScaleSerializer(s.Serializer):
    origin = s.ChoiceField(choices=Column.Origin.choices)
    length_mm = PlainFigure()
    division_mm = PlainFigure()
    readable_low_mm = PlainFigure()
    readable_high_mm = PlainFigure()
    bore_mm = PlainFigure()


class SheetFloatSerializer(s.Serializer):
    id = s.UUIDField()
    label = s.CharField()
    density_g_cm3 = PlainFigure(least=REPORTED_PLACES, allow_null=True)
    has_valid_certificate = s.BooleanField()
    is_quarantined = s.BooleanField()


class FloatSheetSerializer(s.Serializer):
    """What to read for a float set, lightest float first; nothing of an earlier set."""

    fill = s.UUIDField()
    state = s.CharField()
    column = SheetColumnSerializer()
    scale = SheetScaleSerializer()
    bath = BathSerializer()
    minimum_floats = s.IntegerField()
    floats = SheetFloatSerializer(many=True)
    thermometers = ThermometerSerializer(many=True)


class FloatSheetView(LabView):
    """The empty sheet of a float set in this fill."""

    queryset = Fill.objects.select_related("column__bath")
    serializer_class = FloatSheetSerializer
    required_action = Action.VIEW_LAB

    def get(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        return Response(self.represent(float_sheet(self.get_object(), SYSTEM_CLOCK.now())))
