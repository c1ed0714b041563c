"""Workbooks: formulas are never evaluated, dates and numbers keep what the sheet made of them."""

from __future__ import annotations

import io
import zipfile
import zlib
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from xml.etree.ElementTree import ParseError

import openpyxl
from django.utils.translation import gettext as _
from openpyxl.utils.exceptions import InvalidFileException

from labsite.errors import RuleViolation, UnsupportedType
from reports.imports.cells import BLANK, BROKEN, DATE, FORMULA, NUMBER, TIME, TRUTH, Cell, text_cell
from reports.imports.delimited import Numbered

# A sheet stores binary numbers and shows at most 15 digits: what was typed is found back so.
SHOWN_DIGITS = 15


class Workbook:
    """The sheets of a workbook that hold something, in their order, hidden ones left out."""

    def __init__(self, content: bytes) -> None:
        self._book = _open(content)
        self._rows: dict[str, Numbered] = {}
        for sheet in self._book.worksheets:
            if sheet.sheet_state == "visible":
                rows = _rows_of(sheet)
                if rows:
                    self._rows[sheet.title] = rows
        self._book.close()

    @property
    def sheets(self) -> list[str]:
        return list(self._rows)

    def rows(self, sheet: str) -> Numbered:
        return self._rows[sheet]


def _open(content: bytes) -> Any:
    try:
        return openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=False)
    except _DAMAGE as error:
        raise _damaged() from error


# what openpyxl lets through when the parts of a workbook do not fit together
_DAMAGE = (
    InvalidFileException,
    zipfile.BadZipFile,
    ParseError,
    KeyError,
    ValueError,
    TypeError,
    AttributeError,
    IndexError,
    OSError,
    EOFError,
    NotImplementedError,
    zlib.error,
)


def _damaged() -> UnsupportedType:
    return UnsupportedType(
        "file_damaged", _("The workbook is damaged. Save it again and try once more.")
    )


def _rows_of(sheet: Any) -> Numbered:
    sheet.reset_dimensions()  # a sheet may claim a million rows that it does not have
    rows: Numbered = []
    try:
        for number, row in enumerate(sheet.iter_rows(), start=1):
            cells = _trimmed([_cell(cell) for cell in row])
            if cells:
                rows.append((number, cells))
    except _DAMAGE as error:
        raise _damaged() from error
    return rows


def _trimmed(cells: list[Cell]) -> list[Cell]:
    while cells and cells[-1].is_blank:
        cells.pop()
    return cells


def _cell(cell: Any) -> Cell:
    value = cell.value
    if value is None:
        return BLANK
    if cell.data_type == "f":
        return Cell(str(value) if isinstance(value, str) else "=", FORMULA)
    if cell.data_type == "e":
        return Cell(str(value), BROKEN)
    if isinstance(value, bool):
        return Cell(_("TRUE") if value else _("FALSE"), TRUTH)
    if isinstance(value, int | float):
        return Cell(shown(value), NUMBER)
    return _moment(value) or text_cell(str(value))


def _moment(value: Any) -> Cell | None:
    if isinstance(value, datetime):
        value = (value + timedelta(milliseconds=500)).replace(microsecond=0)
        bare = (value.hour, value.minute, value.second) == (0, 0, 0)
        return Cell(value.date().isoformat() if bare else value.isoformat(" "), DATE)
    if isinstance(value, date):
        return Cell(value.isoformat(), DATE)
    if isinstance(value, time | timedelta):
        return Cell(str(value), TIME)
    return None


def shown(value: float) -> str:
    """A stored number with the digits that its sheet shows, never in exponent form."""
    return format(Decimal(format(value, f".{SHOWN_DIGITS}g")), "f")


def require_sheet(book: Workbook, sheet: str) -> None:
    if sheet not in book.sheets:
        raise RuleViolation(
            "no_such_sheet",
            _("There is no visible sheet “%(name)s” with rows in this workbook.") % {"name": sheet},
            fields={"sheet": [_("one of: %(names)s") % {"names": ", ".join(book.sheets)}]},
        )
