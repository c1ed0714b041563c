"""Text files: encoding and delimiter are guessed, named, and may be chosen instead."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Callable

from django.utils.translation import gettext as _

from labsite.errors import RuleViolation, UnsupportedType
from reports.imports.cells import Cell, text_cell

ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252")
DELIMITERS = (",", ";", "\t")
_UTF16_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_SAMPLE = 4096
_SHARE_OF_ZEROS = 0.4  # Western text in UTF-16 has a zero in nearly every second byte
_DECLARATION = "sep="  # some spreadsheets write the delimiter into the first line

Numbered = list[tuple[int, list[Cell]]]


def guess_encoding(content: bytes) -> str:
    """UTF-8 when the bytes are valid UTF-8, UTF-16 by its mark or its zeros, else cp1252."""
    if content.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if content.startswith(_UTF16_MARKS):
        return "utf-16"
    halves = {"utf-16-be": content[0:_SAMPLE:2], "utf-16-le": content[1:_SAMPLE:2]}
    name, half = max(halves.items(), key=lambda item: item[1].count(0))
    if half.count(0) > len(half) * _SHARE_OF_ZEROS:
        return name
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def decode(content: bytes, encoding: str) -> str:
    """The text; raises RuleViolation (422) for another encoding, UnsupportedType for no text."""
    try:
        text = content.decode(encoding)
    except UnicodeError as error:
        raise RuleViolation(
            "encoding_wrong",
            _("The file cannot be read as %(encoding)s. Save it as UTF-8 and try again.")
            % {"encoding": encoding},
            fields={"encoding": [_("does not fit this file")]},
        ) from error
    if "\x00" in text:
        raise UnsupportedType("file_type", _("This is no text file. Save it as .csv or .xlsx."))
    return text


def guess_delimiter(text: str, recognise: Callable[[str], bool]) -> str:
    """The one with which most headers are recognised; then the one that gives most columns."""
    first = text.lstrip("\r\n").split("\n", 1)[0].strip("\r\ufeff")
    if first.lower().startswith(_DECLARATION) and first[len(_DECLARATION) :] in DELIMITERS:
        return first[len(_DECLARATION) :]
    return max(DELIMITERS, key=lambda mark: _promise(text, mark, recognise))


def _promise(text: str, delimiter: str, recognise: Callable[[str], bool]) -> tuple[int, int]:
    for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter):
        if any(cell.strip() for cell in row):
            return sum(recognise(cell.strip()) for cell in row), len(row)
    return 0, 0


def split(text: str, delimiter: str) -> Numbered:
    """Rows that hold something, each with its number as a spreadsheet would show it."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: Numbered = []
    try:
        for number, row in enumerate(reader, start=1):
            cells = [text_cell(cell) for cell in row]
            if number == 1 and _declares(row):
                continue
            if any(not cell.is_blank for cell in cells):
                rows.append((number, cells))
    except csv.Error as error:
        raise RuleViolation(
            "quotes_wrong",
            _("Line %(line)s cannot be split into cells: %(why)s. Look at its quotation marks.")
            % {"line": reader.line_num, "why": error},
        ) from error
    return rows


def _declares(row: list[str]) -> bool:
    return "".join(row).lower().startswith(_DECLARATION) and len(row) <= 2
