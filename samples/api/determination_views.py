"""Determinations, and what an amended float set would touch."""

from __future__ import annotations

from typing import Any

from django.db.models import Prefetch
from drf_spectacular.utils import extend_schema
from rest_framework import serializers as drf
from rest_framework.response import Response

from columns.models import FloatSet
from labsite.accounts.roles import Action
from labsite.api.views import ActionView, LabView, ListCreateView, RecordView
from samples.api import determination_serializers as serializers
from samples.api import filters, inputs
from samples.api.fact_serializers import FactsSerializer
from samples.api.views import AmendedOnly, Masking
from samples.models import Determination, DeterminationPart
from samples.selectors.determinations import touched_by_float_set
from samples.selectors.facts import determination_facts
from samples.services import determinations

ROWS = Determination.objects.select_related("lot", "prepared_by", "released_by")
WHOLE = ROWS.select_related("amended_by").prefetch_related(
    Prefetch(
        "parts",
        DeterminationPart.objects.select_related(
            "result__reading__specimen__fill__column", "result__reading__read_by",
            "result__bound_float",
        ).order_by("result__reading__specimen__number"),
        to_attr="shown_parts",
    )
)  # fmt: skip


class DeterminationsView(Masking, ListCreateView):
    """Determinations. POST prepares one from a lot's specimens."""

    queryset = ROWS
    serializer_class = serializers.DeterminationRowSerializer
    input_class = inputs.DeterminationInput
    filterset_class = filters.DeterminationFilter
    required_action = {"GET": Action.VIEW_LAB, "POST": Action.MEASURE}

    def create(self, actor: Any, data: dict[str, Any]) -> Determination:
        return determinations.prepare_determination(actor=actor, **data)

    def represent(self, record: Determination) -> Any:
        return whole(record, self.get_serializer_context())

    @extend_schema(
        responses={
            201: serializers.DeterminationSerializer,
            200: serializers.DeterminationSerializer,
        }
    )
    def post(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        return super().post(request, *args, **kwargs)


def whole(record: Determination, context: dict[str, Any]) -> Any:
    return serializers.DeterminationSerializer(WHOLE.get(pk=record.pk), context=context).data


class DeterminationView(Masking, AmendedOnly, RecordView):
    queryset = WHOLE
    serializer_class = serializers.DeterminationSerializer
    required_action = {"GET": Action.VIEW_LAB, "PATCH": Action.MEASURE}


class DeterminationFactsView(Masking, LabView):
    """Everything a determination rests on."""

    queryset = Determination.objects.all()
    serializer_class = FactsSerializer
    required_action = Action.VIEW_LAB

    def get(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        return Response(self.represent(determination_facts(self.get_object(), request.user)))


class _DeterminationAction(Masking, ActionView):
    queryset = Determination.objects.all()
    serializer_class = serializers.DeterminationSerializer

    def represent(self, record: Determination) -> Any:
        return whole(record, self.get_serializer_context())


class DeterminationReadyView(_DeterminationAction):
    """Mark a draft as ready for release."""

    input_class = inputs.NothingInput
    required_action = Action.MEASURE

    def act(self, actor: Any, record: Determination, data: dict[str, Any]) -> Determination:
        return determinations.mark_ready(actor=actor, determination=record)


class DeterminationReleaseView(_DeterminationAction):
    """Release a ready determination, as a person who read none of it."""

    input_class = inputs.ReleaseInput
    required_action = Action.RELEASE

    def act(self, actor: Any, record: Determination, data: dict[str, Any]) -> Determination:
        return determinations.release_determination(actor=actor, determination=record, **data)


class DeterminationAmendView(_DeterminationAction):
    """Replace a released determination by a new issue, with a reason."""

    input_class = inputs.DeterminationAmendment
    required_action = Action.RELEASE
    success_status = 201

    def act(self, actor: Any, record: Determination, data: dict[str, Any]) -> Determination:
        return determinations.amend_determination(actor=actor, determination=record, **data)


class TouchedSerializer(drf.Serializer):
    determinations = serializers.DeterminationRowSerializer(many=True)


class AmendmentPreviewView(Masking, LabView):
    """The determinations that an amendment of this float set would recompute or flag."""

    queryset = FloatSet.objects.all()
    serializer_class = TouchedSerializer
    required_action = Action.VIEW_LAB

    def get(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        touched = touched_by_float_set(self.get_object())
        return Response(self.represent({"determinations": touched}))
