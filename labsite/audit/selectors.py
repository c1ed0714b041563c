"""The history as it is asked for: filtered, newest first, with what the reader may not see out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from labsite.audit.masking import hidden
from labsite.audit.models import AuditDigest, AuditEntry


@dataclass(frozen=True)
class Wanted:
    """Which entries are asked for; what is None does not matter."""

    object_type: str | None = None
    object_id: UUID | None = None
    actor: UUID | None = None
    action: str | None = None
    from_at: datetime | None = None
    to_at: datetime | None = None


def entries(wanted: Wanted) -> QuerySet[AuditEntry]:
    conditions = {
        "object_type": wanted.object_type,
        "object_id": wanted.object_id,
        "actor_id": wanted.actor,
        "action": wanted.action,
        "at__gte": wanted.from_at,
        "at__lt": wanted.to_at,
    }
    given = {name: value for name, value in conditions.items() if value is not None}
    return AuditEntry.objects.filter(**given).order_by("-id")


@dataclass(frozen=True)
class Told:
    """An entry as one reader may see it."""

    entry: AuditEntry
    facts: dict[str, Any]
    masked: bool


HIDDEN_FACTS = {"old": {}, "new": {}, "noted": {}, "reason": ""}


def told_to(person: Any, found: Iterable[AuditEntry]) -> list[Told]:
    """The entries with values and reasons left out where `person` may not see them."""
    found = list(found)
    concealed = hidden(person, found)
    return [
        Told(
            entry,
            entry.facts | HIDDEN_FACTS if entry.pk in concealed else entry.facts,
            entry.pk in concealed,
        )
        for entry in found
    ]


def labels_of(references: dict[str, set[str]]) -> dict[str, str]:
    """Names of objects by id, as the history first called them: {type: {ids}} in one query."""
    ids = {one for group in references.values() for one in group}
    if not ids:
        return {}
    first = AuditEntry.objects.filter(
        object_type__in=list(references), object_id__in=list(ids), sequence=1
    )
    return {str(pk): label for pk, label in first.values_list("object_id", "object_label")}


def digests() -> QuerySet[AuditDigest]:
    return AuditDigest.objects.order_by("-number")
