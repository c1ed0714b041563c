"""What lies in columns: pieces read and pieces still to be read, as one person may see them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import Exists, F, FilteredRelation, OuterRef, Q
from django.utils.timezone import localdate, localtime

from labsite.quantities import WORKING_PLACES, rounded
from samples.models import Determination, Grade, Reading, Specimen
from samples.selectors.blindness import blind_lots
from samples.selectors.specimens import FINAL_OUTCOMES, PRESENT, QueueItem, in_columns

Outcome = Reading.Outcome


@dataclass(frozen=True)
class Contents:
    """The occupants and the tray of one fill, ready to be drawn."""

    occupants: list[dict[str, Any]]
    tray: list[dict[str, Any]]


@dataclass(frozen=True)
class _Last:
    """The last word on a specimen so far."""

    outcome: str
    height_mm: Decimal | None
    read_at: datetime
    bracketing: Decimal | None
    curve: Decimal | None


def contents_of(fills: Iterable[Any], person: Any, at: datetime) -> dict[UUID, Contents]:
    """The contents of each fill by its id, in three queries."""
    fills = list(fills)
    specimens = list(_lying(fills))
    last = _last_readings(specimens)
    blind = blind_lots(person, {specimen.lot_id for specimen in specimens}) if specimens else set()
    found = {fill.pk: Contents([], []) for fill in fills}
    for specimen in specimens:
        contents, seen = found[specimen.fill_id], last.get(specimen.pk)
        if seen is not None:
            hidden = specimen.lot_id in blind
            contents.occupants.append(_occupant(specimen, seen, at, masked=hidden))
        if _is_unread(specimen, seen):
            contents.tray.append(_tray_item(specimen, seen, person, at))
    for contents in found.values():
        contents.tray.sort(key=tray_order)
    return found


def tray_order(item: dict[str, Any]) -> tuple[bool, bool, str]:
    """Ready before falling, one's own first, the longest waiting first."""
    return item["state"] != "ready", not item["mine"], item["ready_at"]


def _lying(fills: list[Any]) -> Any:
    released = Determination.objects.filter(
        lot=OuterRef("lot"),
        status=Determination.Status.RELEASED,
        released_at__gte=OuterRef("dropped_at"),
    )
    return (
        in_columns(fills)
        .select_related("lot__grade", "fill__column")
        .annotate(was_released=Exists(released))
        .order_by("dropped_at", "number")
    )


def _last_readings(specimens: list[Specimen]) -> dict[UUID, _Last]:
    """The last reading at rest or with a final outcome, with its present densities."""
    rows = (
        Reading.objects.filter(
            PRESENT,
            specimen__in=[specimen.pk for specimen in specimens],
            outcome__in=(Outcome.AT_REST, *FINAL_OUTCOMES),
        )
        .annotate(
            present=FilteredRelation("results", condition=Q(results__superseded_at__isnull=True)),
            bracketing=F("present__bracketing_g_cm3"),
            curve=F("present__curve_g_cm3"),
        )
        .order_by("read_at", "created_at")
        .values_list("specimen_id", "outcome", "height_mm", "read_at", "bracketing", "curve")
    )
    return {specimen: _Last(*facts) for specimen, *facts in rows}


def _is_unread(specimen: Specimen, last: _Last | None) -> bool:
    if specimen.was_released:
        return False
    return last is None or _awaits_second_look(specimen, last)


def _awaits_second_look(specimen: Specimen, last: _Last) -> bool:
    again = specimen.second_look_at
    return last.outcome == Outcome.AT_REST and again is not None and last.read_at < again


def _occupant(specimen: Specimen, last: _Last, at: datetime, *, masked: bool) -> dict[str, Any]:
    height = None if masked else last.height_mm
    column = specimen.fill.column
    density = last.bracketing
    if specimen.lot.grade.reported_figure == Grade.Figure.CURVE:
        density = last.curve
    return {
        "specimen": str(specimen.pk),
        "lot": specimen.lot.code,
        "lot_tail": specimen.lot.tail,
        "shape": specimen.shape,
        "age": age_of(specimen.dropped_at, at),
        "outcome": None if masked else last.outcome,
        "height_mm": None if height is None else on_scale(height, column),
        "above_bottom_mm": None if height is None else float(column.above_bottom_mm(height)),
        "density_g_cm3": None if masked or density is None else working(density),
        "masked": masked,
    }


def _tray_item(specimen: Specimen, last: _Last | None, person: Any, at: datetime) -> dict[str, Any]:
    due = specimen.ready_at if last is None else specimen.second_look_at
    return {
        "specimen": str(specimen.pk),
        "lot": specimen.lot.code,
        "lot_tail": specimen.lot.tail,
        "shape": specimen.shape,
        "state": "ready" if due <= at else "falling",
        "dropped_at": told_at(specimen.dropped_at),
        "ready_at": told_at(due),
        "second_look": last is not None,
        "mine": specimen.reader_id == person.pk,
    }


def age_of(dropped_at: datetime, at: datetime) -> str:
    days = (localdate(at) - localdate(dropped_at)) / timedelta(days=1)
    if days < 1:
        return "today"
    return "yesterday" if days < 2 else "older"


def on_scale(height_mm: Decimal, column: Any) -> str:
    """A height with the places of the column's scale, and with its own where it has more."""
    places = max(_places(column.scale_division_mm), _places(height_mm))
    return f"{height_mm:.{places}f}"


def _places(value: Decimal) -> int:
    return max(0, -int(value.normalize().as_tuple().exponent))


def plain(value: Decimal) -> str:
    """A typed decimal without trailing zeros: 412.50 is "412.5"."""
    return f"{value.normalize():f}"


def working(density: Decimal) -> str:
    """The density of one piece in the places of working pages."""
    return str(rounded(density, WORKING_PLACES))


def told_at(at: datetime) -> str:
    """An instant with the lab's offset."""
    return localtime(at).isoformat(timespec="milliseconds")


def queued(item: QueueItem) -> dict[str, Any]:
    """An item of the read queue as on the bench's tray, with its column."""
    specimen = item.specimen
    return {
        "specimen": str(specimen.pk),
        "lot": specimen.lot.code,
        "lot_tail": specimen.lot.tail,
        "shape": specimen.shape,
        "state": "ready" if item.is_ready else "falling",
        "dropped_at": told_at(specimen.dropped_at),
        "ready_at": told_at(item.due_at),
        "second_look": item.due_at == specimen.second_look_at,
        "mine": item.is_mine,
        "column": {"id": str(specimen.fill.column_id), "name": specimen.fill.column.name},
    }
