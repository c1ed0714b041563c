"""Which specimens lie in columns, which are still to be read, and when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from columns.models import Fill
from samples.models import Determination, Reading, Specimen

PRESENT = Q(withdrawn_at__isnull=True, replaced_at__isnull=True)
# After these outcomes there is nothing more to read of the piece.
FINAL_OUTCOMES = (
    Reading.Outcome.CANNOT_TELL,
    Reading.Outcome.OFF_TOP,
    Reading.Outcome.OFF_BOTTOM,
)


def present_readings() -> QuerySet[Reading]:
    """Readings that stand: neither undone nor replaced by an amended one."""
    return Reading.objects.filter(PRESENT)


def _final_readings() -> QuerySet[Reading]:
    """Of a piece that is looked at twice, an earlier reading at rest is not the last word."""
    seen_at_rest = Q(outcome=Reading.Outcome.AT_REST) & (
        Q(specimen__second_look_at__isnull=True) | Q(read_at__gte=F("specimen__second_look_at"))
    )
    return present_readings().filter(
        seen_at_rest | Q(outcome__in=FINAL_OUTCOMES), specimen=OuterRef("pk")
    )


def in_columns(fills: Any = None) -> QuerySet[Specimen]:
    """Specimens that no basket pass has removed, of live fills."""
    found = Specimen.objects.filter(removed_at__isnull=True, fill__state__in=Fill.LIVE)
    return found if fills is None else found.filter(fill__in=fills)


def unread(specimens: QuerySet[Specimen] | None = None) -> QuerySet[Specimen]:
    """Specimens in columns whose last reading is still to come.

    A piece left behind stops to count as unread when its lot is released from later on.
    """
    released = Determination.objects.filter(
        lot=OuterRef("lot"),
        status=Determination.Status.RELEASED,
        released_at__gte=OuterRef("dropped_at"),
    )
    specimens = in_columns() if specimens is None else specimens
    return specimens.filter(~Exists(_final_readings()), ~Exists(released))


def with_first_look(specimens: QuerySet[Specimen]) -> QuerySet[Specimen]:
    """Annotated with `had_first_look`: read at rest once, to be looked at again."""
    first = present_readings().filter(specimen=OuterRef("pk"), outcome=Reading.Outcome.AT_REST)
    return specimens.annotate(had_first_look=Exists(first))


def due_at(specimen: Specimen) -> datetime:
    """When an unread specimen (annotated by `with_first_look`) may be read next."""
    if specimen.had_first_look and specimen.second_look_at is not None:
        return specimen.second_look_at
    return specimen.ready_at


@dataclass(frozen=True)
class QueueItem:
    """A specimen to be read: who is to read it, since when it is ready or when it will be."""

    specimen: Specimen
    due_at: datetime
    is_ready: bool
    is_mine: bool


def read_queue(person: Any, at: datetime, *, column: Any = None) -> list[QueueItem]:
    """What is to be read: ready before falling, one's own first, the longest waiting first."""
    found = with_first_look(unread()).select_related("lot__grade", "fill__column", "fill__pair")
    if column is not None:
        found = found.filter(fill__column=column)
    items = [queue_item(specimen, person, at) for specimen in found]
    return sorted(items, key=lambda item: (not item.is_ready, not item.is_mine, item.due_at))


def queue_item(specimen: Specimen, person: Any, at: datetime) -> QueueItem:
    due = due_at(specimen)
    return QueueItem(specimen, due, due <= at, specimen.reader_id == person.pk)
