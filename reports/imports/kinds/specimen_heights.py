"""Heights of specimens typed from a logbook, one row for each reading."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import AbstractContextManager
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from columns.selectors.calibrations import events_asked_once
from labsite.accounts.roles import Action
from labsite.errors import LabError
from labsite.records import LabRecord
from reports.imports.doubts import code_doubts
from reports.imports.fields import CHOICE, DECIMAL, INSTANT, MILLIMETRES, Column, Field
from reports.imports.kinds.base import Bad, Entry, Importing, Kind, Line
from reports.imports.kinds.logbook_drops import save_drop
from reports.imports.kinds.lookups import label_key

SHAPES = {
    "square": ("square",),
    "triangle": ("triangle",),
    "bar": ("bar",),
    "disc": ("disc", "disk", "round"),
    "notched": ("notched", "notch"),
    "tee": ("tee", "t"),
}
FORMS = {
    "pellet": ("pellet", "pellets"),
    "strand": ("strand", "strands"),
    "moulded": ("moulded", "moulded piece", "molded", "plaque"),
    "film": ("film",),
    "other": ("other",),
}
OUTCOMES = {
    "at_rest": ("at rest", "rest"),
    "bubble": ("bubble on it", "bubble", "bubble seen"),
    "not_at_rest": ("not at rest", "moving", "still moving"),
    "cannot_tell": ("cannot tell which", "cannot tell"),
    "off_top": ("off the top", "off top"),
    "off_bottom": ("off the bottom", "off bottom"),
}
# what the readings of one specimen have in common
SHARED = ("dropped_by", "form", "thickness", "override_reason")

FIELDS = (
    Field("lot", gettext_lazy("Lot"), ("lot", "lot code", "lot no", "lot number"), longest=40),
    Field("grade", gettext_lazy("Grade"), ("grade", "product"), required=False, longest=80),
    Field("column", gettext_lazy("Column"), ("column", "column name"), longest=40),
    Field(
        "shape",
        gettext_lazy("Cut shape"),
        ("shape", "cut shape", "cut"),
        CHOICE,
        choices=SHAPES,
    ),
    Field(
        "form",
        gettext_lazy("Form"),
        ("form",),
        CHOICE,
        in_empty_table=False,
        required=False,
        choices=FORMS,
    ),
    Field(
        "thickness",
        gettext_lazy("Thickness"),
        ("thickness",),
        DECIMAL,
        in_empty_table=False,
        required=False,
        units=MILLIMETRES[:1],
        places=3,
    ),
    Field(
        "dropped_at",
        gettext_lazy("Dropped at"),
        ("dropped at", "dropped", "drop", "drop time"),
        INSTANT,
    ),
    Field(
        "dropped_by",
        gettext_lazy("Dropped by"),
        ("dropped by",),
        in_empty_table=False,
        required=False,
        longest=120,
    ),
    Field(
        "read_at",
        gettext_lazy("Read at"),
        ("read at", "read", "read on", "reading time"),
        INSTANT,
    ),
    Field(
        "person",
        gettext_lazy("Read by"),
        ("read by", "person", "reader", "technician", "initials"),
        longest=120,
    ),
    Field(
        "height",
        gettext_lazy("Height"),
        ("height", "position", "reading"),
        DECIMAL,
        required=False,
        units=MILLIMETRES,
        places=2,
    ),
    Field(
        "outcome",
        gettext_lazy("Outcome"),
        ("outcome", "result"),
        CHOICE,
        required=False,
        choices=OUTCOMES,
    ),
    Field(
        "override_reason",
        gettext_lazy("Dropped although not open, because"),
        ("override reason", "dropped although not open because"),
        in_empty_table=False,
        required=False,
        longest=200,
    ),
    Field(
        "note",
        gettext_lazy("Note"),
        ("note", "notes", "remark"),
        in_empty_table=False,
        required=False,
        longest=500,
    ),
)


class SpecimenHeightsKind(Kind):
    """Specimens are dropped and read as the logbook says; new lots are registered.

    An entry is one drop: the specimens of a lot that fell into a column at one time.
    """

    code = "specimen-heights"
    label = gettext_lazy("Specimen heights")
    explanation = gettext_lazy(
        "One row for each reading. A lot that is not known yet needs its grade. Rows with the "
        "same lot, column, shape and drop time are readings of one specimen."
    )
    actions = (Action.IMPORT_RECORDS, Action.REGISTER_LOT, Action.MEASURE)
    fields = FIELDS
    service_names = {
        "code": "lot",
        "height_mm": "height",
        "thickness_mm": "thickness",
        "shapes": "shape",
        "received_at": "dropped_at",
    }

    def entries(self, lines: list[Line], columns: list[Column]) -> tuple[list[Entry], list[Bad]]:
        groups: dict[Any, list[Line]] = {}
        for line in lines:
            key = _specimen_key(line)
            groups.setdefault(line.row if None in key else key, []).append(line)
        bad = [item for group in groups.values() for item in _contradictions(group, columns)]
        spoilt = {item.row for item in bad}
        whole = [g for g in groups.values() if not spoilt & {line.row for line in g}]
        drops: dict[Any, list[Line]] = {}
        for group in whole:
            drops.setdefault(_drop_key(group), []).extend(_in_time(group))
        return [Entry(tuple(lines)) for lines in drops.values()], bad

    def remarks(self, line: Line) -> Iterable[tuple[str, str]]:
        for sentence in code_doubts(line.cells["lot"]):
            yield "lot", sentence

    def rests_on(self, entry: Entry) -> Any:
        """The first row of a new lot registers it for the others."""
        return _specimen_key(entry.first)[0]

    def scope(self) -> AbstractContextManager[None]:
        """Drops and readings end no calibration, so what does is looked up once."""
        return events_asked_once()

    def place_of(self, entry: Entry, error: LabError) -> tuple[Line, str]:
        line = getattr(error, "line", entry.first)
        return super().place_of(Entry((line,)), error)

    def save(self, entry: Entry, importing: Importing) -> list[tuple[int, LabRecord]]:
        return save_drop(entry, importing)


def _specimen_key(line: Line) -> tuple[Any, ...]:
    lot, column = line["lot"], line["column"]
    return (
        " ".join(lot.upper().split()) if lot else None,
        label_key(column) if column else None,
        line["shape"],
        line["dropped_at"],
    )


def _drop_key(specimen: list[Line]) -> Any:
    """Specimens with the same key were dropped together; a spoilt one stands alone."""
    first = specimen[0]
    if any(line.is_spoilt for line in specimen):
        return first.row
    lot, column, _shape, dropped_at = _specimen_key(first)
    who = first["dropped_by"] or first["person"]
    how = (first["form"], first["thickness"], first["override_reason"])
    return lot, column, dropped_at, label_key(who), *how


def _in_time(group: list[Line]) -> list[Line]:
    if any(line.is_spoilt for line in group):
        return group
    return sorted(group, key=lambda line: line["read_at"])


def _contradictions(group: list[Line], columns: list[Column]) -> list[Bad]:
    first = group[0]
    bad = [
        _bad(line, column, _("the same as in row %(row)s, which is the same specimen"), first)
        for line in group[1:]
        for column in columns
        if column.field.code in SHARED and line[column.field.code] != first[column.field.code]
    ]
    times: dict[Any, Line] = {}
    read_at = next(column for column in columns if column.field.code == "read_at")
    for line in group:
        earlier = times.setdefault(line["read_at"], line)
        if earlier is not line and not line.is_spoilt:
            text = _("another time than in row %(row)s, or another specimen")
            bad.append(_bad(line, read_at, text, earlier))
    return bad


def _bad(line: Line, column: Column, text: str, other: Line) -> Bad:
    cell = line.cells[column.field.code]
    return Bad(line.row, column.header, cell.text, text % {"row": other.row})
