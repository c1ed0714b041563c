"""Float sets and calibrations."""

from __future__ import annotations

from typing import Any

from django.db.models import Prefetch

from columns.api import filters, inputs
from columns.api.calibration_serializers import CalibrationSerializer, FloatSetSerializer
from columns.models import Calibration, FloatHeight, FloatSet
from columns.services import calibrations, float_sets
from labsite.accounts.roles import Action
from labsite.api.views import ActionView, ListCreateView, ListView, RecordView

SETS = FloatSet.objects.select_related("fill__column", "read_by").prefetch_related(
    Prefetch("heights", FloatHeight.objects.select_related("calibration_float")),
    Prefetch("calibrations", Calibration.objects.select_related("float_set")),
)


class FloatSetsView(ListCreateView):
    """Float sets. POST saves one, with the calibration that follows from it."""

    queryset = SETS
    serializer_class = FloatSetSerializer
    input_class = inputs.FloatSetInput
    filterset_class = filters.FloatSetFilter
    required_action = {"GET": Action.VIEW_LAB, "POST": Action.RECORD_FLOAT_SET}

    def create(self, actor: Any, data: dict[str, Any]) -> FloatSet:
        return float_sets.record_float_set(actor=actor, **data).float_set


class FloatSetView(RecordView):
    queryset = SETS
    serializer_class = FloatSetSerializer
    required_action = Action.VIEW_LAB


class FloatSetAmendView(ActionView):
    """Replace heights or temperature by a new set; what rests on it is computed again."""

    queryset = FloatSet.objects.all()
    serializer_class = FloatSetSerializer
    input_class = inputs.FloatSetAmendment
    required_action = Action.RECORD_FLOAT_SET
    success_status = 201

    def act(self, actor: Any, record: FloatSet, data: dict[str, Any]) -> FloatSet:
        return float_sets.amend_float_set(actor=actor, float_set=record, **data).float_set


class FloatSetRecomputeView(ActionView):
    """Compute the set again with the certificates and quarantines known now."""

    queryset = FloatSet.objects.all()
    serializer_class = CalibrationSerializer
    input_class = inputs.ReasonInput
    required_action = Action.RECORD_FLOAT_SET
    success_status = 201

    def act(self, actor: Any, record: FloatSet, data: dict[str, Any]) -> Calibration:
        return calibrations.recompute_calibration(actor=actor, float_set=record, **data)


class CalibrationsView(ListView):
    """Every calibration computed, superseded ones as well."""

    queryset = Calibration.objects.select_related("float_set")
    serializer_class = CalibrationSerializer
    filterset_class = filters.CalibrationFilter
    required_action = Action.VIEW_LAB


class CalibrationView(RecordView):
    queryset = Calibration.objects.select_related("float_set")
    serializer_class = CalibrationSerializer
    required_action = Action.VIEW_LAB
