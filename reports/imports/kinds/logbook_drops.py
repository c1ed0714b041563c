"""Saving one drop of the logbook: its lot, its specimens and their readings."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from columns.models import Fill
from labsite.errors import LabError
from labsite.records import LabRecord
from reports.imports.kinds.base import CellRefused, Entry, Importing, Line
from reports.imports.kinds.lookups import (
    column_named,
    fill_at,
    from_logbook,
    label_key,
    once,
    person_named,
)
from samples.models import Grade, Lot, Reading, Specimen
from samples.services.lot_codes import clean_lot_code
from samples.services.lots import register_lot
from samples.services.readings import record_reading
from samples.services.specimens import drop_specimens


def save_drop(entry: Entry, importing: Importing) -> list[tuple[int, LabRecord]]:
    """Save a drop; the lines of each specimen follow each other, in the order of reading.

    Raises an ExceptionGroup of what is wrong with the readings, each error with its `line`.
    """
    first = entry.first
    column = column_named(importing, first["column"])
    fill = fill_at(importing, column, first["dropped_at"], code="dropped_at")
    pieces = [list(lines) for _shape, lines in groupby(entry.lines, lambda line: line["shape"])]
    lot, is_new = _lot(entry.lines, importing)
    specimens = _drop([lines[0] for lines in pieces], lot, fill, importing)
    saved: list[tuple[int, LabRecord]] = [(first.row, lot)] if is_new else []
    refused: list[Exception] = []
    for lines, specimen in zip(pieces, specimens, strict=True):
        saved.append((lines[0].row, specimen))
        for number, line in enumerate(lines):
            try:
                saved.append((line.row, _read(line, number, specimen, importing)))
            except (CellRefused, LabError, ValidationError) as error:
                error.line = line
                refused.append(error)
    if refused:
        raise ExceptionGroup("readings that cannot be saved", refused)
    return saved


def _lot(lines: tuple[Line, ...], importing: Importing) -> tuple[Lot, bool]:
    """The lot and whether it was registered just now."""
    first = lines[0]
    code = clean_lot_code(first["lot"])
    lot = Lot.objects.select_related("grade__recipe").filter(code=code).first()
    is_new = lot is None
    if lot is None:
        lot = _register(code, lines, importing)
    for line in lines:
        grade = _grade(line, importing)
        if grade is not None and grade.pk != lot.grade_id:
            expected = _("%(grade)s, as this lot is registered, or an empty cell")
            raise CellRefused("grade", expected % {"grade": lot.grade}, line)
    return lot, is_new


def _register(code: str, lines: tuple[Line, ...], importing: Importing) -> Lot:
    first = lines[0]
    grade = next(filter(None, (_grade(line, importing) for line in lines)), None)
    if grade is None:
        code_of_cell = "grade" if "grade" in first.cells else "lot"
        raise CellRefused(code_of_cell, _("a grade, because this lot is not registered yet"))
    return register_lot(
        actor=importing.actor,
        code=code,
        grade=grade,
        received_at=first["dropped_at"],
        note=from_logbook("", importing.file_name, first.row),
        confirmed=True,  # doubts were shown in the preview
        clock=importing.clock,
    )


def _grade(line: Line, importing: Importing) -> Grade | None:
    if not line["grade"]:
        return None
    grades = once(
        importing, "grades", lambda: {label_key(each.name): each for each in Grade.objects.all()}
    )
    found = grades.get(label_key(line["grade"]))
    if found is None:
        raise CellRefused("grade", _("the name of a grade of this lab"), line)
    return found


def _drop(firsts: list[Line], lot: Lot, fill: Fill, importing: Importing) -> list[Specimen]:
    """The specimens of a drop; `firsts` is the first line of each."""
    first = firsts[0]
    known = Specimen.objects.filter(lot=lot, fill=fill, dropped_at=first["dropped_at"])
    shapes = set(known.values_list("shape", flat=True))
    for line in firsts:
        if line["shape"] in shapes:
            expected = _("a specimen that is not recorded yet; there is one of this time")
            raise CellRefused("dropped_at", expected, line)
    code = "dropped_by" if first["dropped_by"] else "person"
    return drop_specimens(
        actor=importing.actor,
        dropped_by=person_named(importing, first[code], code=code),
        lot=lot,
        fill=fill,
        shapes=[line["shape"] for line in firsts],
        form=first["form"],
        thickness_mm=first["thickness"],
        dropped_at=first["dropped_at"],
        override_reason=first["override_reason"] or "",
        clock=importing.clock,
    )


def _read(line: Line, number: int, specimen: Specimen, importing: Importing) -> Any:
    outcome = line["outcome"] or (Reading.Outcome.AT_REST if line["height"] is not None else None)
    if outcome is None:
        code = "height" if "height" in line.cells else "outcome"
        raise CellRefused(code, _("a height or an outcome"))
    return record_reading(
        actor=importing.actor,
        specimen=specimen,
        outcome=outcome,
        height_mm=line["height"],
        read_at=line["read_at"],
        read_by=person_named(importing, line["person"]),
        late_reason=from_logbook("", importing.file_name, line.row),
        note=line["note"] or "",
        source=Reading.Source.LOGBOOK,
        seen_readings=number,
        clock=importing.clock,
    )
