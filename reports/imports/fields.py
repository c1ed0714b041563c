"""The columns that a file may have, by what people write into headers."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from labsite.errors import RuleViolation
from reports.imports.cells import Cell
from reports.imports.delimited import Numbered

TEXT, DECIMAL, DAY, INSTANT, CHOICE, HEIGHT_OR_REASON = (
    "text",
    "decimal",
    "day",
    "instant",
    "choice",
    "height_or_reason",
)


@dataclass(frozen=True)
class Unit:
    """`factor` and `shift` lead to the unit of the field: stored = typed × factor + shift."""

    sign: str
    names: tuple[str, ...]
    factor: Decimal = Decimal(1)
    shift: Decimal = Decimal(0)

    def convert(self, value: Decimal) -> Decimal:
        return value * self.factor + self.shift


MILLIMETRES = (
    Unit("mm", ("mm", "millimetre", "millimetres", "millimeter", "millimeters")),
    Unit("cm", ("cm", "centimetre", "centimetres", "centimeter", "centimeters"), Decimal(10)),
)
# 1 g/ml = 1 g/cm³; 1 kg/m³ = 0.001 g/cm³ (SI)
DENSITY = (
    Unit("g/cm³", ("gcm3", "gcc", "gml", "gpercm3")),
    Unit("kg/m³", ("kgm3", "kgperm3", "gl"), Decimal("0.001")),
)
CELSIUS = (
    Unit("°C", ("°c", "c", "degc", "celsius")),
    Unit("K", ("k", "kelvin"), shift=Decimal("-273.15")),
)


@dataclass(frozen=True)
class Field:
    """One column of an import: its first unit is the one in which values are stored."""

    code: str
    label: Any
    names: tuple[str, ...]
    what: str = TEXT
    required: bool = True
    blank_ok: bool = False
    units: tuple[Unit, ...] = ()
    places: int = 0
    longest: int = 80
    choices: dict[str, tuple[str, ...]] = field(default_factory=dict)
    in_empty_table: bool = True  # whether the empty table to fill in has it

    def answers_to(self, name: str) -> bool:
        """Whether a header means this field. One letter counts as written: U is not u."""
        own_names = (_plain(self.code), *self.names)
        return any(name == own if len(own) == 1 else _plain(name) == own for own in own_names)


@dataclass(frozen=True)
class Column:
    """A column of the file, matched: `unit` is what its values are written in."""

    index: int
    header: str
    field: Field
    unit: Unit | None = None
    unit_named: bool = False

    def cell(self, cells: list[Cell]) -> Cell:
        return cells[self.index] if self.index < len(cells) else Cell("")


def _plain(name: str) -> str:
    return re.sub(r"[\s_\-.:]+", " ", name).strip().casefold()


def _unit_name(text: str) -> str:
    text = text.casefold().replace("³", "3").replace("℃", "°c")
    return re.sub(r"[\s/_^.*·]|\*\*", "", text)


_BRACKETS = re.compile(r"(?P<name>.+?)\s*[\[(]\s*(?P<unit>[^\])]*?)\s*[\])]")
_AFTER_COMMA = re.compile(r"(?P<name>.+),\s*(?P<unit>[^,]+)")


def _readings(header: str) -> Iterable[tuple[str, str]]:
    """Ways to split a header into name and unit, the plainest first."""
    yield header, ""
    for pattern in (_BRACKETS, _AFTER_COMMA):
        match = pattern.fullmatch(header)
        if match:
            yield match["name"], match["unit"]
    words = re.split(r"[\s_]+", header)
    for count in range(len(words) - 1, 0, -1):
        yield " ".join(words[:count]), " ".join(words[count:])


def match_header(header: str, fields: Iterable[Field]) -> tuple[Field, Unit | None, bool] | None:
    """The field and unit that a header means, and whether the unit was written; else None."""
    fields = tuple(fields)
    for name, unit_text in _readings(header):
        for candidate in fields:
            if not candidate.answers_to(name):
                continue
            if not unit_text:
                return candidate, (candidate.units or (None,))[0], False
            for unit in candidate.units:
                if _unit_name(unit_text) in unit.names:
                    return candidate, unit, True
    return None


def match_columns(
    headers: list[Cell],
    fields: tuple[Field, ...],
    further: Callable[[str], Field | None] = lambda header: None,
) -> list[Column]:
    """Match a row of headers; raises RuleViolation naming what is missing, unknown or double.

    `further` may turn a header that no field answers to (a float's label) into a field.
    """
    columns, unknown = [], []
    for index, cell in enumerate(headers):
        if cell.is_blank:
            continue
        found = match_header(cell.text, fields) or _further(cell.text, further)
        if found is None:
            unknown.append(cell.text)
        else:
            columns.append(Column(index, cell.text, *found))
    _refuse_wrong_headers(columns, unknown, fields)
    return columns


def _further(header: str, further: Callable[[str], Field | None]) -> Any:
    for name, unit_text in _readings(header):
        own = further(name)
        if own is None:
            continue
        if not unit_text:
            return own, own.units[0], False
        for unit in own.units:
            if _unit_name(unit_text) in unit.names:
                return own, unit, True
    return None


def _refuse_wrong_headers(
    columns: list[Column], unknown: list[str], fields: tuple[Field, ...]
) -> None:
    codes = [column.field.code for column in columns]
    missing = [str(f.label) for f in fields if f.required and f.code not in codes]
    double = [column.header for column in columns if codes.count(column.field.code) > 1]
    told = {
        name: [str(text) for text in texts]
        for name, texts in (("missing", missing), ("unknown", unknown), ("double", double))
        if texts
    }
    if told:
        raise columns_wrong(told, " ".join(_sentences(told)))


def columns_wrong(told: dict[str, list[str]], what: str) -> RuleViolation:
    return RuleViolation(
        "columns_wrong",
        _("The headers of this file do not fit. %(what)s Nothing was read.") % {"what": what},
        fields=told,
    )


def _sentences(told: dict[str, list[str]]) -> Iterable[str]:
    texts = {
        "missing": _("Missing: %(names)s."),
        "unknown": _("Not known, or with a unit that is not known: %(names)s."),
        "double": _("Twice the same: %(names)s."),
    }
    for name, names in told.items():
        yield texts[name] % {"names": ", ".join(f"“{text[:60]}”" for text in names[:12])}


def cells_outside(rows: Numbered, headers: list[Cell]) -> list[tuple[int, int, str]]:
    """Cells that hold something where no header stands: row, index of the column, text."""
    named = {index for index, cell in enumerate(headers) if not cell.is_blank}
    return [
        (number, index, cell.text)
        for number, cells in rows
        for index, cell in enumerate(cells)
        if not cell.is_blank and index not in named
    ]
