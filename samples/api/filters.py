"""Filters of lists. None of them asks for a figure: a mask could be guessed through it."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django.db.models import QuerySet

from columns.api.filters import is_open, since, until
from columns.models import Column
from samples import models
from samples.selectors.lots import WaitsFor
from samples.selectors.specimens import unread
from samples.services.lot_codes import normalise


class RecipeFilter(filters.FilterSet):
    in_use = is_open("retired_at")

    class Meta:
        model = models.PreparationRecipe
        fields = ["form"]


class GradeFilter(filters.FilterSet):
    in_use = is_open("retired_at")
    q = filters.CharFilter(field_name="name", lookup_expr="icontains")

    class Meta:
        model = models.Grade
        fields = ["recipe", "is_control_material"]


class LotFilter(filters.FilterSet):
    """`code` finds the lot as typed, whatever its capitals; `q` finds a part of the code."""

    code = filters.CharFilter(method="filter_code")
    q = filters.CharFilter(method="filter_part")
    waits_for = filters.ChoiceFilter(choices=WaitsFor.choices)
    since = since("received_at")
    until = until("received_at")

    class Meta:
        model = models.Lot
        fields = ["grade"]

    def filter_code(self, queryset: QuerySet, name: str, value: str) -> QuerySet:
        return queryset.filter(code=normalise(value))

    def filter_part(self, queryset: QuerySet, name: str, value: str) -> QuerySet:
        return queryset.filter(code__contains=normalise(value))


class SpecimenFilter(filters.FilterSet):
    column = filters.ModelChoiceFilter(field_name="fill__column", queryset=Column.objects.all())
    in_column = is_open("removed_at")
    unread = filters.BooleanFilter(method="filter_unread")

    class Meta:
        model = models.Specimen
        fields = ["lot", "fill", "shape", "dropped_by"]

    def filter_unread(self, queryset: QuerySet, name: str, value: Any) -> QuerySet:
        found = unread().values("pk")
        return queryset.filter(pk__in=found) if value else queryset.exclude(pk__in=found)


class ReadingFilter(filters.FilterSet):
    lot = filters.ModelChoiceFilter(field_name="specimen__lot", queryset=models.Lot.objects.all())
    present = filters.BooleanFilter(method="filter_present")
    since = since("read_at")
    until = until("read_at")

    class Meta:
        model = models.Reading
        fields = ["specimen", "read_by", "source"]

    def filter_present(self, queryset: QuerySet, name: str, value: Any) -> QuerySet:
        standing = {"withdrawn_at__isnull": True, "replaced_at__isnull": True}
        return queryset.filter(**standing) if value else queryset.exclude(**standing)


class DeterminationFilter(filters.FilterSet):
    grade = filters.ModelChoiceFilter(field_name="lot__grade", queryset=models.Grade.objects.all())
    to_be_amended = filters.BooleanFilter(method="filter_to_be_amended")
    since = since("prepared_at")
    until = until("prepared_at")

    class Meta:
        model = models.Determination
        fields = ["lot", "status", "number"]

    def filter_to_be_amended(self, queryset: QuerySet, name: str, value: Any) -> QuerySet:
        present = queryset.exclude(status=models.Determination.Status.AMENDED)
        plain = present.filter(to_be_amended_because="")
        return present.exclude(pk__in=plain.values("pk")) if value else plain
