"""From the bytes of a file to a row of headers and rows of cells, with every guess named.

Nothing here asks the database: the same bytes and the same choices give the same table.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from labsite.errors import LabError, RuleViolation
from reports.imports.cells import Cell
from reports.imports.delimited import (
    DELIMITERS,
    ENCODINGS,
    Numbered,
    decode,
    guess_delimiter,
    guess_encoding,
    split,
)
from reports.imports.guesses import DELIMITER, ENCODING, SHEET, Guess, require_option
from reports.imports.signatures import CSV, format_of
from reports.imports.workbooks import Workbook, require_sheet

MOST_ROWS = 500  # one transaction holds the only writer of SQLite for some seconds
MOST_COLUMNS = 100


@dataclass(frozen=True)
class Table:
    """`rows` hold the file's own row numbers; `delimiter` is empty for a workbook."""

    format: str
    headers: list[Cell]
    rows: Numbered
    guesses: tuple[Guess, ...]
    delimiter: str = ""


def read_table(
    file_name: str,
    content: bytes,
    choices: Mapping[str, str],
    recognise: Callable[[str], bool] = lambda header: False,
) -> Table:
    """Read a CSV or XLSX file.

    `choices` (encoding, delimiter, sheet) replace guesses; `recognise` tells whether a text is a
    known header, which decides between delimiters. Raises a LabError for what cannot be read.
    """
    if format_of(file_name, content) == CSV:
        return _read_text(content, choices, recognise)
    return _read_workbook(content, choices)


def _read_text(
    content: bytes, choices: Mapping[str, str], recognise: Callable[[str], bool]
) -> Table:
    encoding = choices.get(ENCODING) or guess_encoding(content)
    text = decode(content, require_option(ENCODING, encoding, ENCODINGS))
    delimiter = choices.get(DELIMITER) or guess_delimiter(text, recognise)
    require_option(DELIMITER, delimiter, DELIMITERS)
    guesses = (_encoding_guess(encoding), _delimiter_guess(delimiter))
    return _table(CSV, split(text, delimiter), guesses, delimiter)


def _encoding_guess(encoding: str) -> Guess:
    names = {
        "utf-8": _("UTF-8"),
        "utf-8-sig": _("UTF-8 with a mark at its start"),
        "utf-16": _("UTF-16 with a mark at its start"),
        "utf-16-le": _("UTF-16, low byte first"),
        "utf-16-be": _("UTF-16, high byte first"),
        "cp1252": _("Western European (Windows-1252)"),
    }
    shown = dict.fromkeys((encoding, "utf-8", "cp1252"))
    options = tuple((name, names[name]) for name in shown)
    return Guess(ENCODING, encoding, names[encoding], options=options)


def _delimiter_guess(delimiter: str) -> Guess:
    names = {",": _("comma"), ";": _("semicolon"), "\t": _("tab")}
    return Guess(DELIMITER, delimiter, names[delimiter], options=tuple(names.items()))


def _read_workbook(content: bytes, choices: Mapping[str, str]) -> Table:
    book = Workbook(content)
    if not book.sheets:
        raise LabError("file_empty", _("No visible sheet of this workbook holds anything."))
    sheet = choices.get(SHEET) or book.sheets[0]
    require_sheet(book, sheet)
    count = len(book.sheets)
    why = _("the first of %(count)s that hold something") % {"count": count} if count > 1 else ""
    options = tuple((name, name) for name in book.sheets)
    guess = Guess(SHEET, sheet, sheet, "" if choices.get(SHEET) else why, options)
    return _table("xlsx", book.rows(sheet), (guess,))


def _table(format_: str, rows: Numbered, guesses: tuple[Guess, ...], delimiter: str = "") -> Table:
    if len(rows) < 2:
        raise RuleViolation(
            "no_rows", _("There is a row of headers at most. Put one row of values under it.")
        )
    if len(rows) - 1 > MOST_ROWS:
        raise RuleViolation(
            "too_many_rows",
            _("The file has %(count)s rows; up to %(most)s are saved at a time. Split it.")
            % {"count": len(rows) - 1, "most": MOST_ROWS},
        )
    widest = max(len(cells) for _number, cells in rows)
    if widest > MOST_COLUMNS:
        raise RuleViolation(
            "too_many_columns",
            _("The file has %(count)s columns; up to %(most)s are read.")
            % {"count": widest, "most": MOST_COLUMNS},
        )
    return Table(format_, rows[0][1], rows[1:], guesses, delimiter)
