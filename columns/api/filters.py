"""Filters of lists."""

from __future__ import annotations

import django_filters as filters

from columns import models
from labsite.api.filters import since, until, yes_or_no


def is_open(field_name: str) -> filters.Filter:
    """True: rows whose end is not known yet."""
    return yes_or_no(field_name, "isnull")


class BathFilter(filters.FilterSet):
    in_use = is_open("retired_at")

    class Meta:
        model = models.Bath
        fields = ["in_use"]


class TemperatureFilter(filters.FilterSet):
    since = since("measured_at")
    until = until("measured_at")
    present = is_open("replaced_at")
    is_in_tolerance = yes_or_no("is_in_tolerance")

    class Meta:
        model = models.BathTemperature
        fields = ["source"]


class ColumnFilter(filters.FilterSet):
    in_use = is_open("retired_at")

    class Meta:
        model = models.Column
        fields = ["bath", "name"]


class FillFilter(filters.FilterSet):
    class Meta:
        model = models.Fill
        fields = ["column", "pair", "state"]


class HoldFilter(filters.FilterSet):
    open = is_open("lifted_at")

    class Meta:
        model = models.Hold
        fields = ["fill", "kind"]


class BasketPassFilter(filters.FilterSet):
    open = is_open("ended_at")

    class Meta:
        model = models.BasketPass
        fields = ["fill", "purpose"]


class CalibrationFloatFilter(filters.FilterSet):
    in_use = is_open("retired_at")

    class Meta:
        model = models.CalibrationFloat
        fields = {"label": ["exact", "istartswith"]}


class QuarantineFilter(filters.FilterSet):
    open = is_open("lifted_at")

    class Meta:
        model = models.FloatQuarantine
        fields = ["calibration_float"]


class CertificateFilter(filters.FilterSet):
    valid_on = filters.DateFilter(method="filter_valid_on")

    class Meta:
        model = models.Certificate
        fields = ["calibration_float", "number", "issuer"]

    def filter_valid_on(self, queryset, name, value):
        return queryset.filter(issued_on__lte=value, valid_until__gte=value)


class PlacementFilter(filters.FilterSet):
    present = is_open("removed_at")

    class Meta:
        model = models.FloatPlacement
        fields = ["fill", "calibration_float"]


class FloatSetFilter(filters.FilterSet):
    column = filters.ModelChoiceFilter(
        field_name="fill__column", queryset=models.Column.objects.all()
    )
    since = since("read_at")
    until = until("read_at")
    present = is_open("replaced_at")

    class Meta:
        model = models.FloatSet
        fields = ["fill", "read_by"]


class CalibrationFilter(filters.FilterSet):
    fill = filters.ModelChoiceFilter(
        field_name="float_set__fill", queryset=models.Fill.objects.all()
    )
    present = is_open("superseded_at")
    passes = yes_or_no("passes")

    class Meta:
        model = models.Calibration
        fields = ["float_set"]


class FlagFilter(filters.FilterSet):
    open = is_open("cleared_at")

    class Meta:
        model = models.ColumnFlag
        fields = ["column", "fill", "kind"]
