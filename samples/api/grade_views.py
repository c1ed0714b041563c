"""Recipes, grades and lots."""

from __future__ import annotations

from typing import Any

from django.db.models import Prefetch
from rest_framework.response import Response

from labsite.accounts.roles import Action
from labsite.api.etags import fresh_or_unchanged
from labsite.api.views import ActionView, ChangeableRecordView, LabView, ListCreateView
from labsite.clock import SYSTEM_CLOCK
from samples.api import filters, inputs, serializers
from samples.api.determination_serializers import LotSerializer
from samples.api.fact_serializers import LotFactsSerializer
from samples.api.views import Masking
from samples.models import Determination, Grade, Lot, PreparationRecipe
from samples.selectors.lot_facts import lot_facts
from samples.selectors.lots import lots_with_waits
from samples.services import grades, lots, recipes

GRADES = {"GET": Action.VIEW_LAB, "POST": Action.MANAGE_GRADES, "PATCH": Action.MANAGE_GRADES}
LOTS = {"GET": Action.VIEW_LAB, "POST": Action.REGISTER_LOT, "PATCH": Action.REGISTER_LOT}
ALL_LOTS = (
    lots_with_waits()
    .select_related("grade", "registered_by")
    .prefetch_related(
        Prefetch(
            "determinations",
            Determination.objects.exclude(status=Determination.Status.AMENDED)
            .select_related("prepared_by", "released_by")
            .order_by("-number", "-issue"),
            to_attr="shown_determinations",
        )
    )
)


class RecipesView(ListCreateView):
    queryset = PreparationRecipe.objects.all()
    serializer_class = serializers.RecipeSerializer
    input_class = inputs.RecipeInput
    filterset_class = filters.RecipeFilter
    required_action = GRADES

    def create(self, actor: Any, data: dict[str, Any]) -> PreparationRecipe:
        return recipes.add_recipe(actor=actor, **data)


class RecipeView(ChangeableRecordView):
    queryset = PreparationRecipe.objects.all()
    serializer_class = serializers.RecipeSerializer
    change_class = inputs.RecipeChange
    required_action = GRADES

    def change(self, actor: Any, record: Any, data: dict[str, Any]) -> PreparationRecipe:
        return recipes.change_recipe(
            actor=actor, recipe=record, reason=data.pop("reason", ""), **data
        )


class RecipeRetireView(ActionView):
    """Take a recipe out of use."""

    queryset = PreparationRecipe.objects.all()
    serializer_class = serializers.RecipeSerializer
    input_class = inputs.ReasonInput
    required_action = Action.MANAGE_GRADES

    def act(self, actor: Any, record: Any, data: dict[str, Any]) -> PreparationRecipe:
        return recipes.retire_recipe(actor=actor, recipe=record, **data)


class GradesView(ListCreateView):
    queryset = Grade.objects.all()
    serializer_class = serializers.GradeSerializer
    input_class = inputs.GradeInput
    filterset_class = filters.GradeFilter
    required_action = GRADES

    def create(self, actor: Any, data: dict[str, Any]) -> Grade:
        return grades.add_grade(actor=actor, **data)


class GradeView(ChangeableRecordView):
    queryset = Grade.objects.all()
    serializer_class = serializers.GradeSerializer
    change_class = inputs.GradeChange
    required_action = GRADES

    def change(self, actor: Any, record: Any, data: dict[str, Any]) -> Grade:
        return grades.change_grade(actor=actor, grade=record, reason=data.pop("reason", ""), **data)


class GradeRetireView(ActionView):
    """Take a grade out of use."""

    queryset = Grade.objects.all()
    serializer_class = serializers.GradeSerializer
    input_class = inputs.ReasonInput
    required_action = Action.MANAGE_GRADES

    def act(self, actor: Any, record: Any, data: dict[str, Any]) -> Grade:
        return grades.retire_grade(actor=actor, grade=record, **data)


class LotsView(Masking, ListCreateView):
    queryset = ALL_LOTS
    serializer_class = LotSerializer
    input_class = inputs.LotInput
    filterset_class = filters.LotFilter
    required_action = LOTS

    def create(self, actor: Any, data: dict[str, Any]) -> Lot:
        return ALL_LOTS.get(pk=lots.register_lot(actor=actor, **data).pk)


class LotView(Masking, ChangeableRecordView):
    queryset = ALL_LOTS
    serializer_class = LotSerializer
    change_class = inputs.LotChange
    required_action = LOTS

    def get_locked_object(self) -> Lot:
        locked = super().get_locked_object()
        return ALL_LOTS.get(pk=locked.pk)

    def change(self, actor: Any, record: Any, data: dict[str, Any]) -> Lot:
        lots.change_lot(actor=actor, lot=record, reason=data.pop("reason", ""), **data)
        return ALL_LOTS.get(pk=record.pk)


class LotFactsView(Masking, LabView):
    """All that is known of a lot, with its pieces on the density axis."""

    queryset = Lot.objects.select_related("grade")
    serializer_class = LotFactsSerializer
    required_action = Action.VIEW_LAB

    def get(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        facts = lot_facts(self.get_object(), request.user, SYSTEM_CLOCK.now())
        return fresh_or_unchanged(request, self.represent(facts))
