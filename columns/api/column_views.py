"""Columns, liquid pairs, flags, and the calibration in force."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.response import Response

from columns.api import filters, inputs, serializers
from columns.api.bath_views import EQUIPMENT
from columns.api.calibration_serializers import InForceSerializer
from columns.models import Column, ColumnFlag, LiquidPair
from columns.selectors.calibrations import calibration_state, state_without_fill
from columns.selectors.fills import fill_at
from columns.services import columns, pairs
from labsite.accounts.roles import Action
from labsite.api.views import (
    ActionView,
    ChangeableRecordView,
    LabView,
    ListCreateView,
    ListView,
)
from labsite.clock import SYSTEM_CLOCK


class ColumnsView(ListCreateView):
    queryset = Column.objects.all()
    serializer_class = serializers.ColumnSerializer
    input_class = inputs.ColumnInput
    filterset_class = filters.ColumnFilter
    required_action = EQUIPMENT

    def create(self, actor: Any, data: dict[str, Any]) -> Column:
        return columns.add_column(actor=actor, **data)


class ColumnView(ChangeableRecordView):
    queryset = Column.objects.all()
    serializer_class = serializers.ColumnSerializer
    change_class = inputs.ColumnChange
    required_action = EQUIPMENT

    def change(self, actor: Any, record: Column, data: dict[str, Any]) -> Column:
        return columns.change_column(actor=actor, column=record, **data)


class ColumnRetireView(ActionView):
    """Take a column out of use."""

    queryset = Column.objects.all()
    serializer_class = serializers.ColumnSerializer
    input_class = inputs.ReasonInput
    required_action = Action.MANAGE_EQUIPMENT

    def act(self, actor: Any, record: Column, data: dict[str, Any]) -> Column:
        return columns.retire_column(actor=actor, column=record, **data)


class ColumnCalibrationView(LabView):
    """The calibration that counts for a reading made at `at` (without it, now)."""

    queryset = Column.objects.all()
    serializer_class = InForceSerializer
    required_action = Action.VIEW_LAB

    @extend_schema(parameters=[inputs.AtInput])
    def get(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        asked = inputs.AtInput(data=request.query_params)
        asked.is_valid(raise_exception=True)
        at = asked.validated_data.get("at") or SYSTEM_CLOCK.now()
        fill = fill_at(self.get_object(), at)
        state = calibration_state(fill, at) if fill else state_without_fill()
        return Response(
            self.represent(
                {
                    "at": at,
                    "fill": fill and fill.pk,
                    "calibration": state.calibration,
                    "refusal": state.refusal,
                    "valid_until_at": state.valid_until_at if state.calibration else None,
                }
            )
        )


class PairsView(ListCreateView):
    queryset = LiquidPair.objects.all()
    serializer_class = serializers.LiquidPairSerializer
    input_class = inputs.LiquidPairInput
    required_action = EQUIPMENT

    def create(self, actor: Any, data: dict[str, Any]) -> LiquidPair:
        return pairs.add_liquid_pair(actor=actor, **data)


class PairView(ChangeableRecordView):
    queryset = LiquidPair.objects.all()
    serializer_class = serializers.LiquidPairSerializer
    change_class = inputs.LiquidPairChange
    required_action = EQUIPMENT

    def change(self, actor: Any, record: LiquidPair, data: dict[str, Any]) -> LiquidPair:
        return pairs.change_liquid_pair(actor=actor, pair=record, **data)


class FlagsView(ListView):
    """What a background job noticed about columns."""

    queryset = ColumnFlag.objects.all()
    serializer_class = serializers.FlagSerializer
    filterset_class = filters.FlagFilter
    required_action = Action.VIEW_LAB
