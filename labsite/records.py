"""The base of every lab table, and the canonical text of a row.

The canonical text is what the history hashes: decimals with the field's own places, instants in
UTC with microseconds, references as their ids. It is the same on SQLite and PostgreSQL.
"""

from __future__ import annotations

import json
import uuid
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django.db import models


class LabRecord(models.Model):
    """A row that only services change; each change leaves an entry in the history."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    version = models.PositiveIntegerField(default=1, editable=False)
    created_at = models.DateTimeField(editable=False)

    # names of fields whose value the history must never hold
    audit_masked: tuple[str, ...] = ()

    class Meta:
        abstract = True

    @property
    def etag(self) -> str:
        """Strong entity tag of this version of the row."""
        return f'"{self.pk}.{self.version}"'


def canonical_json(value: Any) -> str:
    """JSON text with sorted keys and no spaces; floats are refused (they travel as text)."""
    _refuse_floats(value)
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def _refuse_floats(value: Any) -> None:
    if isinstance(value, float):
        raise TypeError("a float has no canonical text; store it as a decimal or as text")
    if isinstance(value, dict):
        for item in value.values():
            _refuse_floats(item)
    elif isinstance(value, list | tuple):
        for item in value:
            _refuse_floats(item)


def canonical_instant(value: datetime) -> str:
    return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def canonical_value(field: models.Field, value: Any) -> Any:
    """One field's value as text, whole number, truth value or None."""
    if isinstance(value, models.Model):
        value = value.pk
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(field, models.DecimalField):
        return format(Decimal(value).quantize(Decimal(1).scaleb(-field.decimal_places)), "f")
    if isinstance(value, datetime):
        return canonical_instant(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return repr(value)
    return str(value)


def snapshot(record: models.Model) -> dict[str, Any]:
    """All stored fields of `record` as canonical values; masked ones as "masked"."""
    masked = getattr(record, "audit_masked", ())
    return {
        field.attname: "masked"
        if field.name in masked
        else canonical_value(field, getattr(record, field.attname))
        for field in record._meta.concrete_fields
    }
