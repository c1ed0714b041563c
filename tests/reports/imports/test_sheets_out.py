"""What is handed out as CSV cannot act in a spreadsheet."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.imports.sheets_out import csv_text, harmless


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("=1+1", "'=1+1"),
        ("+cmd|x", "'+cmd|x"),
        ("@x", "'@x"),
        ("-x", "'-x"),
        ("\t=1", "'\t=1"),
        ("\r=1", "'\r=1"),
        ("-3.5", "-3.5"),
        ("+3,5", "+3,5"),
        ("-3+1", "'-3+1"),
        ("412.5", "412.5"),
        ("F-101", "F-101"),
        (None, ""),
        (12, "12"),
    ],
)
def test_cells(text: object, told: str) -> None:
    assert harmless(text) == told


@given(st.lists(st.lists(st.text(max_size=10), min_size=2, max_size=2), max_size=5))
def test_no_cell_begins_with_what_a_spreadsheet_would_run(rows: list) -> None:
    read = list(csv.reader(io.StringIO(csv_text(("a", "b"), rows), newline="")))
    assert len(read) == len(rows) + 1
    for row in read:
        for cell in row:
            assert not cell.startswith(("=", "@", "\t", "\r"))
            assert not cell.startswith(("+", "-")) or cell[1:].replace(",", ".").isascii()
