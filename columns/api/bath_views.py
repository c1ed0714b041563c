"""Baths, temperatures, thermometers."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from columns.api import filters, inputs, serializers
from columns.models import Bath, BathTemperature, Thermometer
from columns.services import baths
from labsite.accounts.roles import Action
from labsite.api.views import (
    ActionView,
    ChangeableRecordView,
    ListCreateView,
    RecordView,
)

EQUIPMENT = {
    "GET": Action.VIEW_LAB,
    "POST": Action.MANAGE_EQUIPMENT,
    "PATCH": Action.MANAGE_EQUIPMENT,
}
WORK = {"GET": Action.VIEW_LAB, "POST": Action.RECORD_COLUMN_WORK}


class BathsView(ListCreateView):
    queryset = Bath.objects.all()
    serializer_class = serializers.BathSerializer
    input_class = inputs.BathInput
    filterset_class = filters.BathFilter
    required_action = EQUIPMENT

    def create(self, actor: Any, data: dict[str, Any]) -> Bath:
        return baths.add_bath(actor=actor, **data)


class BathView(ChangeableRecordView):
    queryset = Bath.objects.all()
    serializer_class = serializers.BathSerializer
    change_class = inputs.BathChange
    required_action = EQUIPMENT

    def change(self, actor: Any, record: Bath, data: dict[str, Any]) -> Bath:
        return baths.change_bath(actor=actor, bath=record, **data)


class BathRetireView(ActionView):
    """Take a bath out of use."""

    queryset = Bath.objects.all()
    serializer_class = serializers.BathSerializer
    input_class = inputs.ReasonInput
    required_action = Action.MANAGE_EQUIPMENT

    def act(self, actor: Any, record: Bath, data: dict[str, Any]) -> Bath:
        return baths.retire_bath(actor=actor, bath=record, **data)


class BathTemperaturesView(ListCreateView):
    """The log of one bath."""

    queryset = BathTemperature.objects.select_related("measured_by")
    serializer_class = serializers.TemperatureSerializer
    input_class = inputs.TemperatureInput
    filterset_class = filters.TemperatureFilter
    required_action = WORK

    def get_queryset(self) -> QuerySet[BathTemperature]:
        return super().get_queryset().filter(bath=self.kwargs["pk"])

    def list(self, request: Any, *args: Any, **kwargs: Any) -> Any:
        get_object_or_404(Bath, pk=self.kwargs["pk"])
        return super().list(request, *args, **kwargs)

    def create(self, actor: Any, data: dict[str, Any]) -> BathTemperature:
        bath = get_object_or_404(Bath, pk=self.kwargs["pk"])
        return baths.record_bath_temperature(actor=actor, bath=bath, **data)


class TemperatureView(RecordView):
    queryset = BathTemperature.objects.select_related("measured_by")
    serializer_class = serializers.TemperatureSerializer
    required_action = Action.VIEW_LAB


class TemperatureAmendView(ActionView):
    """Replace a wrong temperature by a new row."""

    queryset = BathTemperature.objects.all()
    serializer_class = serializers.TemperatureSerializer
    input_class = inputs.TemperatureAmendment
    required_action = Action.RECORD_COLUMN_WORK
    success_status = 201

    def act(self, actor: Any, record: BathTemperature, data: dict[str, Any]) -> BathTemperature:
        return baths.amend_bath_temperature(actor=actor, temperature=record, **data)


class ThermometersView(ListCreateView):
    queryset = Thermometer.objects.all()
    serializer_class = serializers.ThermometerSerializer
    input_class = inputs.ThermometerInput
    filterset_fields = ("bath",)
    required_action = EQUIPMENT

    def create(self, actor: Any, data: dict[str, Any]) -> Thermometer:
        return baths.add_thermometer(actor=actor, **data)


class ThermometerView(ChangeableRecordView):
    queryset = Thermometer.objects.all()
    serializer_class = serializers.ThermometerSerializer
    change_class = inputs.ThermometerChange
    required_action = EQUIPMENT

    def change(self, actor: Any, record: Thermometer, data: dict[str, Any]) -> Thermometer:
        return baths.change_thermometer(actor=actor, thermometer=record, **data)
