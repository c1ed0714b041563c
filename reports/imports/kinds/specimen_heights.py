"""Heights of specimens typed from a logbook, one row for each reading."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from columns.models import Fill
from labsite.accounts.roles import Action
from labsite.errors import LabError
from labsite.records import LabRecord
from reports.imports.doubts import code_doubts
from reports.imports.fields import CHOICE, DECIMAL, INSTANT, MILLIMETRES, Column, Field
from reports.imports.kinds.base import Bad, CellRefused, Entry, Importing, Kind, Line
from reports.imports.kinds.lookups import (
    column_named,
    fill_at,
    from_logbook,
    label_key,
    person_named,
)
from samples.models import Grade, Lot, Reading, Specimen
from samples.services.lot_codes import clean_lot_code
from samples.services.lots import register_lot
from samples.services.readings import record_reading
from samples.services.specimens import drop_specimen

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
SHARED = ("grade", "dropped_by", "form", "thickness", "override_reason")

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
    """Specimens are dropped and read as the logbook says; new lots are registered."""

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
        return [Entry(tuple(_in_time(group))) for group in whole], bad

    def remarks(self, line: Line) -> Iterable[tuple[str, str]]:
        for sentence in code_doubts(line.cells["lot"]):
            yield "lot", sentence

    def place_of(self, entry: Entry, error: LabError) -> tuple[Line, str]:
        line = getattr(error, "line", entry.first)
        return super().place_of(Entry((line,)), error)

    def save(self, entry: Entry, importing: Importing) -> list[tuple[int, LabRecord]]:
        first = entry.first
        column = column_named(importing, first["column"])
        fill = fill_at(column, first["dropped_at"], code="dropped_at")
        lot, is_new = _lot(first, importing)
        specimen = _drop(first, lot, fill, importing)
        readings = [
            (line.row, _read(line, number, specimen, importing))
            for number, line in enumerate(entry.lines)
        ]
        return [*([(first.row, lot)] if is_new else []), (first.row, specimen), *readings]


def _specimen_key(line: Line) -> tuple[Any, ...]:
    lot, column = line["lot"], line["column"]
    return (
        " ".join(lot.upper().split()) if lot else None,
        label_key(column) if column else None,
        line["shape"],
        line["dropped_at"],
    )


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


def _lot(line: Line, importing: Importing) -> tuple[Lot, bool]:
    """The lot and whether it was registered just now."""
    code = clean_lot_code(line["lot"])
    known = Lot.objects.select_related("grade").filter(code=code).first()
    grade = _grade(line["grade"], importing)
    if known is not None:
        if grade is not None and grade.pk != known.grade_id:
            raise CellRefused(
                "grade",
                _("%(grade)s, as this lot is registered, or an empty cell")
                % {"grade": known.grade},
            )
        return known, False
    if grade is None:
        code_of_cell = "grade" if "grade" in line.cells else "lot"
        raise CellRefused(code_of_cell, _("a grade, because this lot is not registered yet"))
    made = register_lot(
        actor=importing.actor,
        code=code,
        grade=grade,
        received_at=line["dropped_at"],
        note=from_logbook("", importing.file_name, line.row),
        confirmed=True,  # doubts were shown in the preview
        clock=importing.clock,
    )
    return made, True


def _grade(name: str | None, importing: Importing) -> Grade | None:
    if not name:
        return None
    grades = importing.found.setdefault(
        "grades", {label_key(grade.name): grade for grade in Grade.objects.all()}
    )
    if label_key(name) not in grades:
        raise CellRefused("grade", _("the name of a grade of this lab"))
    return grades[label_key(name)]


def _drop(line: Line, lot: Lot, fill: Fill, importing: Importing) -> Specimen:
    known = Specimen.objects.filter(
        lot=lot, fill=fill, shape=line["shape"], dropped_at=line["dropped_at"]
    )
    if known.exists():
        raise CellRefused(
            "dropped_at", _("a specimen that is not recorded yet; there is one of this time")
        )
    code = "dropped_by" if line["dropped_by"] else "person"
    return drop_specimen(
        actor=importing.actor,
        dropped_by=person_named(importing, line[code], code=code),
        lot=lot,
        fill=fill,
        shape=line["shape"],
        form=line["form"],
        thickness_mm=line["thickness"],
        dropped_at=line["dropped_at"],
        override_reason=line["override_reason"] or "",
        clock=importing.clock,
    )


def _read(line: Line, number: int, specimen: Specimen, importing: Importing) -> Reading:
    outcome = line["outcome"] or (Reading.Outcome.AT_REST if line["height"] is not None else None)
    if outcome is None:
        raise CellRefused(
            "height" if "height" in line.cells else "outcome", _("a height or an outcome"), line
        )
    reader = _reader(line, importing)
    try:
        return record_reading(
            actor=importing.actor,
            specimen=specimen,
            outcome=outcome,
            height_mm=line["height"],
            read_at=line["read_at"],
            read_by=reader,
            late_reason=from_logbook("", importing.file_name, line.row),
            note=line["note"] or "",
            source=Reading.Source.LOGBOOK,
            seen_readings=number,
            clock=importing.clock,
        )
    except LabError as error:
        error.line = line
        raise


def _reader(line: Line, importing: Importing) -> Any:
    try:
        return person_named(importing, line["person"])
    except CellRefused as refused:
        raise CellRefused(refused.code, refused.expected, line) from refused
