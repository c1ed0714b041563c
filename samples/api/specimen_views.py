"""Specimens and their readings."""

from __future__ import annotations

from typing import Any

from django.db.models import Prefetch
from drf_spectacular.utils import extend_schema
from rest_framework import serializers as drf
from rest_framework.response import Response

from labsite.accounts.roles import Action
from labsite.api.views import ActionView, ListCreateView, RecordView
from samples.api import filters, inputs, serializers
from samples.api.views import AmendedOnly, Masking
from samples.models import Reading, Specimen
from samples.selectors.readings import with_results
from samples.services import readings, specimens

MEASURE = {"GET": Action.VIEW_LAB, "POST": Action.MEASURE, "PATCH": Action.MEASURE}
READINGS = with_results(
    Reading.objects.select_related("specimen", "read_by", "entered_by").order_by("read_at")
)
SPECIMENS = Specimen.objects.select_related(
    "lot", "fill__column", "dropped_by", "taken_over_by"
).prefetch_related(Prefetch("readings", READINGS, to_attr="shown_readings"))


class SpecimensSerializer(drf.Serializer):
    specimens = serializers.SpecimenSerializer(many=True)


def _shown(records: list[Specimen]) -> dict[str, Any]:
    found = SPECIMENS.filter(pk__in=[record.pk for record in records]).order_by("number")
    return {"specimens": list(found)}


class SpecimensView(Masking, ListCreateView):
    """Specimens. POST drops one for each shape into a fill."""

    queryset = SPECIMENS
    serializer_class = serializers.SpecimenSerializer
    input_class = inputs.SpecimensInput
    filterset_class = filters.SpecimenFilter
    required_action = MEASURE

    def create(self, actor: Any, data: dict[str, Any]) -> Any:
        return _shown(specimens.drop_specimens(actor=actor, **data))

    def represent(self, record: Any) -> Any:
        return SpecimensSerializer(record, context=self.get_serializer_context()).data

    @extend_schema(responses={201: SpecimensSerializer, 200: SpecimensSerializer})
    def post(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        return super().post(request, *args, **kwargs)


class SpecimenView(Masking, RecordView):
    queryset = SPECIMENS
    serializer_class = serializers.SpecimenSerializer
    required_action = Action.VIEW_LAB


class TakeOverView(Masking, ActionView):
    """Become the one who reads these specimens."""

    serializer_class = SpecimensSerializer
    input_class = inputs.SpecimensChosen
    required_action = Action.MEASURE

    def get_object(self) -> None:
        return None

    def act(self, actor: Any, record: None, data: dict[str, Any]) -> Any:
        return _shown(specimens.take_over_specimens(actor=actor, **data))


class ReadingsView(Masking, ListCreateView):
    """Readings. POST saves one and answers with the density that follows."""

    queryset = READINGS
    serializer_class = serializers.ReadingSerializer
    input_class = inputs.ReadingInput
    filterset_class = filters.ReadingFilter
    required_action = MEASURE

    def create(self, actor: Any, data: dict[str, Any]) -> Reading:
        return readings.record_reading(actor=actor, **data)

    def represent(self, record: Reading) -> Any:
        return saved(record, self.get_serializer_context())

    @extend_schema(
        responses={201: serializers.SavedReadingSerializer, 200: serializers.SavedReadingSerializer}
    )
    def post(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        return super().post(request, *args, **kwargs)


def saved(reading: Reading, context: dict[str, Any]) -> Any:
    reading.shown_results = [reading.present_result] if reading.present_result else []
    return serializers.SavedReadingSerializer(reading, context=context).data


class ReadingView(Masking, AmendedOnly, RecordView):
    queryset = READINGS
    serializer_class = serializers.ReadingSerializer
    required_action = MEASURE


class ReadingWithdrawView(Masking, ActionView):
    """Undo one's own reading within ten seconds of saving it."""

    queryset = READINGS
    serializer_class = serializers.ReadingSerializer
    input_class = inputs.NothingInput
    required_action = Action.MEASURE

    def act(self, actor: Any, record: Reading, data: dict[str, Any]) -> Reading:
        readings.withdraw_reading(actor=actor, reading=record)
        return READINGS.get(pk=record.pk)


class ReadingAmendView(Masking, ActionView):
    """Replace a reading by a corrected one, with a reason."""

    queryset = READINGS
    serializer_class = serializers.SavedReadingSerializer
    input_class = inputs.ReadingAmendment
    required_action = Action.MEASURE
    success_status = 201

    def act(self, actor: Any, record: Reading, data: dict[str, Any]) -> Reading:
        return readings.amend_reading(actor=actor, reading=record, **data)

    def represent(self, record: Reading) -> Any:
        return saved(record, self.get_serializer_context())
