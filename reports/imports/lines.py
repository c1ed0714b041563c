"""From cells to lines: every cell is read as its column asks, every refusal is kept."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from django.utils.translation import gettext as _
from openpyxl.utils import get_column_letter

from reports.imports import fields
from reports.imports.cells import TEXT, Cell
from reports.imports.fields import Column, Field, cells_outside
from reports.imports.kinds.base import Bad, Line
from reports.imports.tables import Table
from reports.imports.values import (
    Marks,
    Unreadable,
    read_day,
    read_decimal,
    read_instant,
    read_text,
)


def read_lines(table: Table, columns: list[Column], marks: Marks) -> tuple[list[Line], list[Bad]]:
    """All lines, and each cell that could not be read; its line is marked as spoilt."""
    lines, bad = [], _outside(table)
    for number, cells in table.rows:
        line, refused = _read_line(number, cells, columns, marks)
        lines.append(line)
        bad += refused
    spoilt = {item.row for item in bad}
    return [replace(line, is_spoilt=line.row in spoilt) for line in lines], bad


def _outside(table: Table) -> list[Bad]:
    return [
        Bad(number, get_column_letter(index + 1), text, _("nothing; no header stands above it"))
        for number, index, text in cells_outside(table.rows, table.headers)
    ]


def _read_line(
    number: int, cells: list[Cell], columns: list[Column], marks: Marks
) -> tuple[Line, list[Bad]]:
    values: dict[str, Any] = {}
    by_code: dict[str, Cell] = {}
    bad = []
    for column in columns:
        cell = by_code[column.field.code] = column.cell(cells)
        try:
            values[column.field.code] = read_value(cell, column, marks)
        except Unreadable as refused:
            bad.append(Bad(number, column.header, cell.text, str(refused)))
    return Line(number, values, by_code), bad


def read_value(cell: Cell, column: Column, marks: Marks) -> Any:
    """The value of a cell, in the unit of its field; raises Unreadable."""
    own = column.field
    if cell.is_blank:
        if own.required and not own.blank_ok:
            raise Unreadable(_("a value; the cell is empty"))
        return None
    if own.what == fields.DECIMAL:
        return _measured(cell, column, marks)
    if own.what == fields.DAY:
        return read_day(cell, marks)
    if own.what == fields.INSTANT:
        return read_instant(cell, marks)
    if own.what == fields.CHOICE:
        return _chosen(cell, own)
    if own.what == fields.HEIGHT_OR_REASON and _looks_like_number(cell):
        return _measured(cell, column, marks)
    return read_text(cell, own.longest)


def _looks_like_number(cell: Cell) -> bool:
    return cell.kind != TEXT or cell.text.lstrip("+-−.,")[:1].isdigit()


def _measured(cell: Cell, column: Column, marks: Marks) -> Any:
    value = read_decimal(cell, marks)
    if column.unit is not None:
        value = column.unit.convert(value)
    if max(0, -value.normalize().as_tuple().exponent) > column.field.places:
        sign = column.field.units[0].sign if column.field.units else ""
        raise Unreadable(
            _("at most %(count)s decimal places %(unit)s")
            % {"count": column.field.places, "unit": _("in %(sign)s") % {"sign": sign}}
            if sign
            else _("at most %(count)s decimal places") % {"count": column.field.places}
        )
    return value


def _chosen(cell: Cell, own: Field) -> str:
    text = " ".join(read_text(cell, own.longest).replace("_", " ").casefold().split())
    for value, names in own.choices.items():
        if text in names or text == value.replace("_", " "):
            return value
    raise Unreadable(
        _("one of: %(names)s") % {"names": ", ".join(names[0] for names in own.choices.values())}
    )


def number_cells(table: Table, columns: list[Column]) -> list[Cell]:
    """The cells in which a decimal mark can be told."""
    return [
        cell
        for column, cell in _cells(table, columns, (fields.DECIMAL, fields.HEIGHT_OR_REASON))
        if column.field.what == fields.DECIMAL or _looks_like_number(cell)
    ]


def time_cells(table: Table, columns: list[Column]) -> list[Cell]:
    return [cell for _column, cell in _cells(table, columns, (fields.DAY, fields.INSTANT))]


def _cells(
    table: Table, columns: list[Column], whats: tuple[str, ...]
) -> Iterable[tuple[Column, Cell]]:
    for column in columns:
        if column.field.what in whats:
            for _number, cells in table.rows:
                yield column, column.cell(cells)
