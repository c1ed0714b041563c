"""Fills and what happens in them: pour, settling, opening, drain, holds, basket passes."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.response import Response

from columns.api import filters, inputs, serializers
from columns.api.bath_views import WORK
from columns.models import BasketPass, Fill, Hold
from columns.selectors.fills import standing
from columns.selectors.settling import missing_to_open
from columns.services import basket_passes, fills, holds
from labsite.accounts.roles import Action
from labsite.api.views import ActionView, ChangeableRecordView, LabView, ListCreateView, RecordView
from labsite.clock import SYSTEM_CLOCK


class FillsView(ListCreateView):
    """Fills. POST plans one."""

    queryset = Fill.objects.all()
    serializer_class = serializers.FillSerializer
    input_class = inputs.FillInput
    filterset_class = filters.FillFilter
    required_action = WORK

    def create(self, actor: Any, data: dict[str, Any]) -> Fill:
        return fills.plan_fill(actor=actor, **data)


class FillView(ChangeableRecordView):
    queryset = Fill.objects.all()
    serializer_class = serializers.FillSerializer
    change_class = inputs.FillChange
    required_action = {"GET": Action.VIEW_LAB, "PATCH": Action.RECORD_COLUMN_WORK}

    def change(self, actor: Any, record: Fill, data: dict[str, Any]) -> Fill:
        return fills.change_fill(actor=actor, fill=record, **data)


class FillStandingView(LabView):
    """How the fill stands now, why it is not open, and what is missing to open it."""

    queryset = Fill.objects.select_related("column__bath")
    serializer_class = serializers.StandingSerializer
    required_action = Action.VIEW_LAB

    @extend_schema(responses=serializers.StandingSerializer)
    def get(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        fill, now = self.get_object(), SYSTEM_CLOCK.now()
        found = standing(fill, now)
        waiting = fill.state in (Fill.State.POURED, Fill.State.SETTLING)
        missing = missing_to_open(fill, now) if waiting else []
        told = {name: getattr(found, name) for name in found.__dataclass_fields__}
        return Response(self.represent({**told, "missing_to_open": map(asdict, missing)}))


class FillActionView(ActionView):
    queryset = Fill.objects.all()
    serializer_class = serializers.FillSerializer
    required_action = Action.RECORD_COLUMN_WORK


class FillPourView(FillActionView):
    """The fill was poured."""

    input_class = inputs.PourInput

    def act(self, actor: Any, record: Fill, data: dict[str, Any]) -> Fill:
        return fills.pour_fill(actor=actor, fill=record, **data)


class FillSettleView(FillActionView):
    """The floats are in; the fill is left to settle."""

    input_class = inputs.SettleInput

    def act(self, actor: Any, record: Fill, data: dict[str, Any]) -> Fill:
        return fills.settle_fill(actor=actor, fill=record, **data)


class FillOpenView(FillActionView):
    """Open the fill. A refusal names in `missing` what is not met yet."""

    input_class = inputs.OpenInput

    def act(self, actor: Any, record: Fill, data: dict[str, Any]) -> Fill:
        return fills.open_fill(actor=actor, fill=record, **data)


class FillDrainView(FillActionView):
    """The fill was drained, or its plan is dropped."""

    input_class = inputs.DrainInput

    def act(self, actor: Any, record: Fill, data: dict[str, Any]) -> Fill:
        return fills.drain_fill(actor=actor, fill=record, **data)


class HoldsView(ListCreateView):
    queryset = Hold.objects.select_related("placed_by", "lifted_by")
    serializer_class = serializers.HoldSerializer
    input_class = inputs.HoldInput
    filterset_class = filters.HoldFilter
    required_action = {"GET": Action.VIEW_LAB, "POST": Action.PLACE_HOLD}

    def create(self, actor: Any, data: dict[str, Any]) -> Hold:
        return holds.place_hold(actor=actor, **data)


class HoldView(RecordView):
    queryset = Hold.objects.select_related("placed_by", "lifted_by")
    serializer_class = serializers.HoldSerializer
    required_action = Action.VIEW_LAB


class HoldLiftView(ActionView):
    """Lift a hold, with a reason."""

    queryset = Hold.objects.all()
    serializer_class = serializers.HoldSerializer
    input_class = inputs.ReasonInput
    required_action = Action.LIFT_HOLD

    def act(self, actor: Any, record: Hold, data: dict[str, Any]) -> Hold:
        return holds.lift_hold(actor=actor, hold=record, **data)


class BasketPassesView(ListCreateView):
    """Basket passes. POST starts one, which ends the calibration."""

    queryset = BasketPass.objects.select_related("started_by", "ended_by")
    serializer_class = serializers.BasketPassSerializer
    input_class = inputs.BasketPassInput
    filterset_class = filters.BasketPassFilter
    required_action = WORK

    def create(self, actor: Any, data: dict[str, Any]) -> BasketPass:
        return basket_passes.start_basket_pass(actor=actor, **data)


class BasketPassView(RecordView):
    queryset = BasketPass.objects.select_related("started_by", "ended_by")
    serializer_class = serializers.BasketPassSerializer
    required_action = Action.VIEW_LAB


class BasketPassFinishView(ActionView):
    """Finish a basket pass. Too fast, or floats missing, puts the fill on hold."""

    queryset = BasketPass.objects.all()
    serializer_class = serializers.BasketPassSerializer
    input_class = inputs.BasketPassFinish
    required_action = Action.RECORD_COLUMN_WORK

    def act(self, actor: Any, record: BasketPass, data: dict[str, Any]) -> BasketPass:
        return basket_passes.finish_basket_pass(actor=actor, basket_pass=record, **data)
