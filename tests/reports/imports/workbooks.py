"""Workbooks made for the tests."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable
from typing import Any

import openpyxl


def make_workbook(rows: Iterable[Iterable[Any]], *, title: str = "Sheet") -> bytes:
    """A workbook of one sheet; texts stay texts, also those that begin with "="."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = title
    fill_sheet(sheet, rows)
    return saved(book)


def fill_sheet(sheet: Any, rows: Iterable[Iterable[Any]]) -> None:
    for number, row in enumerate(rows, start=1):
        for index, value in enumerate(row, start=1):
            cell = sheet.cell(number, index, value)
            if isinstance(value, str):
                cell.data_type = "s"


def saved(book: Any) -> bytes:
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def bomb(unzipped_bytes: int) -> bytes:
    """A small workbook whose sheet unpacks to `unzipped_bytes` of blanks."""
    source = zipfile.ZipFile(io.BytesIO(make_workbook([["float"], ["F-1"]])))
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as target:
        for part in source.infolist():
            target.writestr(part.filename, source.read(part.filename))
        target.writestr("xl/worksheets/sheet2.xml", b" " * unzipped_bytes)
    return stream.getvalue()
