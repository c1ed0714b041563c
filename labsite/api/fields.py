"""Serializer bases and fields that read what people type, strictly."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils.dateparse import parse_datetime
from django.utils.timezone import is_aware
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from labsite.errors import RuleViolation
from labsite.quantities import parse_decimal


class StrictSerializer(serializers.Serializer):
    """An input that refuses fields it does not know, instead of dropping them silently."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, dict):
            writable = {name for name, field in self.fields.items() if not field.read_only}
            unknown = sorted(set(data) - writable)
            if unknown:
                raise RuleViolation(
                    "unknown_field",
                    _("There is no such field here: %(names)s.") % {"names": ", ".join(unknown)},
                    fields={name: [_("unknown field")] for name in unknown},
                )
        return super().to_internal_value(data)


class TypedDecimalField(serializers.DecimalField):
    """A decimal as typed, "412.5" or "412,5"; numbers are taken by their shortest text."""

    default_error_messages = {"not_a_number": _("{why}")}

    def to_internal_value(self, data: Any) -> Decimal:
        if isinstance(data, bool) or not isinstance(data, str | int | float):
            self.fail("invalid")
        try:
            value = parse_decimal(str(data))
        except ValueError as error:
            self.fail("not_a_number", why=error)
        return self.quantize(self.validate_precision(value))


class InstantField(serializers.DateTimeField):
    """An instant with its offset, such as 2026-10-06T10:04:31+02:00; never a bare local time."""

    default_error_messages = {
        "no_offset": _("Give date, time and offset, for example 2026-10-06T10:04:31+02:00."),
    }

    def to_internal_value(self, data: Any) -> datetime:
        try:
            value = parse_datetime(data) if isinstance(data, str) else None
        except ValueError:
            value = None
        if value is None or not is_aware(value) or not 1970 < value.year < 9000:
            self.fail("no_offset")
        return value


class LineField(serializers.CharField):
    """One line of text: control characters are refused, length is limited."""

    default_error_messages = {"control": _("Control characters are not allowed here.")}

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 200)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> str:
        text = super().to_internal_value(data)
        if any(ord(char) < 32 and char not in "\n\t" for char in text):
            self.fail("control")
        return text


class RecordField(serializers.PrimaryKeyRelatedField):
    """A reference to a row by its id; an unknown one is told like any other wrong value."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("pk_field", serializers.UUIDField())
        super().__init__(**kwargs)


class TextField(LineField):
    """A remark of several lines, up to 2000 characters; never empty unless that is allowed."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 2000)
        super().__init__(**kwargs)
