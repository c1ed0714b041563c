"""One file as understood: columns, guesses, lines, entries, and what is wrong with its rows."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import PurePath
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils.translation import gettext as _

from labsite.errors import BadInput, RuleViolation
from reports.imports.fields import Column, match_columns, match_header
from reports.imports.guesses import (
    CHOICES,
    DATE_ORDER,
    DECIMAL_MARK,
    TIME_ZONE,
    Guess,
    guess_date_order,
    guess_decimal_mark,
    zone_guess,
)
from reports.imports.kinds.base import Bad, Entry, Kind, Line
from reports.imports.lines import number_cells, read_lines, time_cells
from reports.imports.tables import Table, read_table
from reports.imports.values import POINT, YEAR_FIRST, Marks

LONGEST_NAME = 200
LAYOUT, UNITS = "layout", "units"


@dataclass(frozen=True)
class Remark:
    """Something to look at in a row that can be taken."""

    row: int
    column: str
    value: str
    text: str


@dataclass(frozen=True)
class FileReading:
    kind: Kind
    file_name: str
    sha256: str
    size_bytes: int
    table: Table
    columns: tuple[Column, ...]
    guesses: tuple[Guess, ...]
    marks: Marks
    lines: tuple[Line, ...]
    entries: tuple[Entry, ...]
    bad: tuple[Bad, ...]
    remarks: tuple[Remark, ...]

    @property
    def choices(self) -> dict[str, str]:
        return {guess.name: guess.value for guess in self.guesses if guess.value}

    @property
    def questions(self) -> list[Guess]:
        return [guess for guess in self.guesses if guess.is_question]

    def header_of(self, code: str) -> str:
        return next((c.header for c in self.columns if c.field.code == code), "")


def read_file(
    kind: Kind, file_name: str, content: bytes, choices: Mapping[str, str]
) -> FileReading:
    """Read a file of this kind; `choices` replace the guesses of the same name.

    Raises a LabError for a file that cannot be read or whose headers do not fit. What is wrong
    with single rows is in the answer.
    """
    _refuse_unknown_choices(choices)
    file_name = clean_file_name(file_name)
    table = read_table(file_name, content, choices, recognise=_recogniser(kind))
    columns = match_columns(table.headers, kind.fields, kind.further_field)
    kind.check_columns(columns)
    guesses, marks = _guess(table, columns, choices)
    lines, bad = read_lines(table, columns, marks)
    entries, contradicting = kind.entries(lines, columns)
    reading = FileReading(
        kind=kind,
        file_name=file_name,
        sha256=hashlib.sha256(content).hexdigest(),
        size_bytes=len(content),
        table=table,
        columns=tuple(columns),
        guesses=(*table.guesses, *guesses, *_told_guesses(kind, columns)),
        marks=marks,
        lines=tuple(lines),
        entries=tuple(entries),
        bad=tuple(bad + contradicting),
        remarks=(),
    )
    return replace(reading, remarks=tuple(_remarks(reading)))


def clean_file_name(name: str) -> str:
    name = PurePath(name.replace("\\", "/")).name.strip()
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise BadInput(
            "file_name",
            _("Give the file a name of up to 200 characters that ends in .csv or .xlsx."),
        )
    return name


def _recogniser(kind: Kind):
    def recognise(header: str) -> bool:
        known = match_header(header, kind.fields) or kind.further_field(header)
        return known is not None

    return recognise


def _refuse_unknown_choices(choices: Mapping[str, str]) -> None:
    unknown = sorted(set(choices) - set(CHOICES))
    if unknown:
        raise RuleViolation(
            "choice_unknown",
            _("There is no such choice: %(names)s.") % {"names": ", ".join(unknown)[:200]},
            fields={"choices": [_("one of: %(names)s") % {"names": ", ".join(CHOICES)}]},
        )


def _guess(
    table: Table, columns: list[Column], choices: Mapping[str, str]
) -> tuple[list[Guess], Marks]:
    mark = guess_decimal_mark(
        number_cells(table, columns), table.delimiter, choices.get(DECIMAL_MARK)
    )
    times = time_cells(table, columns)
    guesses = [mark]
    order = guess_date_order(times, choices.get(DATE_ORDER))
    if times:
        guesses.append(order)
    zone = zone_guess(choices.get(TIME_ZONE), settings.TIME_ZONE)
    marks = Marks(
        zone=ZoneInfo(zone.value),
        decimal_mark=mark.value or POINT,
        date_order=order.value or YEAR_FIRST,
    )
    instants = [c for c in columns if c.field.what == "instant"]
    if instants:
        guesses.append(zone_guess(zone.value, settings.TIME_ZONE, _offsets(table, instants, marks)))
    return guesses, marks


def _offsets(table: Table, columns: list[Column], marks: Marks) -> list[str]:
    """The offsets that the local times of the file have in the chosen zone."""
    lines, _bad = read_lines(table, columns, marks)
    found = [value for line in lines for value in line.values.values()]
    return [offset_of(value, marks.zone) for value in found if isinstance(value, datetime)]


def offset_of(instant: datetime, zone: ZoneInfo) -> str:
    return instant.astimezone(zone).isoformat()[-6:]


def _told_guesses(kind: Kind, columns: list[Column]) -> list[Guess]:
    """Guesses that can only be changed by changing the file."""
    layout = kind.layout_sentence(columns)
    return [*([Guess(LAYOUT, "", layout)] if layout else []), _units_guess(columns)]


def _units_guess(columns: list[Column]) -> Guess:
    """Which unit each header means, above all where the file does not say it."""
    assumed, converted = [], []
    for column in columns:
        if column.unit is None:
            continue
        own = column.field.units[0]
        if column.unit is not own:
            converted.append(
                _("“%(header)s” is converted from %(from)s to %(to)s")
                % {"header": column.header, "from": column.unit.sign, "to": own.sign}
            )
        elif not column.unit_named:
            assumed.append(
                _("“%(header)s” is taken in %(unit)s") % {"header": column.header, "unit": own.sign}
            )
    told = [*converted, *assumed] or [_("all are in the headers, or there are none")]
    return Guess(UNITS, "", "; ".join(told))


def _remarks(reading: FileReading) -> list[Remark]:
    return [
        Remark(line.row, reading.header_of(code), line.cells[code].text, sentence)
        for line in reading.lines
        if not line.is_spoilt
        for code, sentence in reading.kind.remarks(line)
    ]
