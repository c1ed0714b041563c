"""Filters that read instants as strictly as bodies do."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import django_filters
from django import forms
from django.core.exceptions import ValidationError
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from labsite.api.fields import InstantField


class InstantFormField(forms.Field):
    """An instant with its offset; never a bare local time, nor a year no calendar can shift."""

    def to_python(self, value: Any) -> datetime | None:
        if value in self.empty_values:
            return None
        try:
            return InstantField().run_validation(value)
        except serializers.ValidationError as error:
            raise ValidationError([str(text) for text in error.detail]) from error


@extend_schema_field(OpenApiTypes.DATETIME)
class InstantFilter(django_filters.Filter):
    field_class = InstantFormField


def since(field_name: str) -> InstantFilter:
    """Rows from this instant on."""
    return InstantFilter(field_name=field_name, lookup_expr="gte")


def until(field_name: str) -> InstantFilter:
    """Rows before this instant."""
    return InstantFilter(field_name=field_name, lookup_expr="lt")


@extend_schema_field({"type": "boolean"})
class YesOrNoFilter(django_filters.TypedChoiceFilter):
    """true or false; another word is refused, not left out of the question."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("choices", (("true", "true"), ("false", "false")))
        kwargs.setdefault("coerce", lambda word: word == "true")
        super().__init__(**kwargs)


def yes_or_no(field_name: str, lookup_expr: str = "exact") -> YesOrNoFilter:
    return YesOrNoFilter(field_name=field_name, lookup_expr=lookup_expr)
