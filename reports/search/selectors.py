"""Finding a lot, a float or a column by what is written on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Case, IntegerField, OuterRef, QuerySet, Subquery, Value, When
from django.utils.translation import gettext as _

from columns.models import CalibrationFloat, Column, FloatPlacement
from samples.models import Lot

LOT, FLOAT, COLUMN = "lot", "float", "column"
KINDS = (LOT, FLOAT, COLUMN)
SHOWN = 20  # of each kind; more than these are told, not listed


@dataclass(frozen=True)
class Hit:
    kind: str
    id: Any
    name: str
    note: str
    is_exact: bool


@dataclass(frozen=True)
class Found:
    hits: list[Hit]
    more: list[str]  # kinds of which there is more than is listed

    @property
    def exact(self) -> list[Hit]:
        return [hit for hit in self.hits if hit.is_exact]

    def of(self, kind: str) -> list[Hit]:
        return [hit for hit in self.hits if hit.kind == kind]


def search(text: str) -> Found:
    """Lots, floats and columns whose name holds `text`; three queries, exact names first."""
    text = text.strip()
    if not text:
        return Found([], [])
    hits, more = [], []
    for find in (_lots, _floats, _columns):
        found = find(text)
        hits += found[:SHOWN]
        more += [hit.kind for hit in found[SHOWN:]]
    return Found(hits, more)


def _named(rows: QuerySet, field: str, text: str) -> list[Any]:
    """Rows whose `field` holds `text`: the exact one first, then those that begin with it."""
    nearness = Case(
        When(**{f"{field}__iexact": text}, then=Value(0)),
        When(**{f"{field}__istartswith": text}, then=Value(1)),
        default=Value(2),
        output_field=IntegerField(),
    )
    found = rows.filter(**{f"{field}__icontains": text})
    return list(found.annotate(nearness=nearness).order_by("nearness", field)[: SHOWN + 1])


def _lots(text: str) -> list[Hit]:
    rows = _named(Lot.objects.select_related("grade"), "code", text)
    return [Hit(LOT, lot.pk, lot.code, lot.grade.name, lot.nearness == 0) for lot in rows]


def _floats(text: str) -> list[Hit]:
    placed = FloatPlacement.objects.filter(
        calibration_float=OuterRef("pk"), removed_at__isnull=True
    ).values("fill__column__name")[:1]
    rows = _named(CalibrationFloat.objects.annotate(column=Subquery(placed)), "label", text)
    return [
        Hit(FLOAT, one.pk, one.label, _where(one.column, one.retired_at), one.nearness == 0)
        for one in rows
    ]


def _where(column: str | None, retired_at: Any) -> str:
    if column:
        return _("in %(column)s") % {"column": column}
    return _("retired") if retired_at else _("in no column")


def _columns(text: str) -> list[Hit]:
    rows = _named(Column.objects.select_related("bath"), "name", text)
    return [Hit(COLUMN, one.pk, one.name, one.bath.name, one.nearness == 0) for one in rows]


def other_kind(found: Found, wanted: str | None) -> Hit | None:
    """The exact hit of another kind than was asked for: a float's label where a lot belongs."""
    if not wanted or any(hit.kind == wanted for hit in found.exact):
        return None
    return next(iter(found.exact), None)
