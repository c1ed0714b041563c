"""The same rows, however they are written, are understood as the same values."""

from __future__ import annotations

import csv
import io
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labsite.errors import BadInput
from reports.imports.kinds.floats import FloatsKind
from reports.imports.readings import clean_file_name, read_file
from tests.reports.imports.workbooks import make_workbook

HEADERS = ["Float", "Certificate No.", "Issuer", "Density", "U", "k", "Issued", "Valid until"]
CODES = ("float", "certificate", "issuer", "density", "expanded_uncertainty", "coverage_factor",
         "issued", "valid_until")  # fmt: skip
LABELS = st.from_regex(r"[A-Z]-[0-9]{1,4}", fullmatch=True)
WORDS = st.from_regex(r"[A-Za-zÄéµ][A-Za-z0-9 ,;=@'\"-]{0,18}[A-Za-z0-9]", fullmatch=True)
DAYS = st.dates(date(1990, 1, 1), date(2099, 12, 31))
ROWS = st.lists(
    st.tuples(
        LABELS,
        WORDS,
        WORDS,
        st.decimals("0.7", "3", places=5),
        st.decimals("0.00001", "0.01", places=6),
        st.decimals("1", "5", places=2),
        DAYS,
        DAYS,
    ),
    min_size=1,
    max_size=8,
    unique_by=lambda row: row[0],
)


def understood(content: bytes, name: str, **choices: str) -> list[tuple[Any, ...]]:
    reading = read_file(FloatsKind(), name, content, choices)
    assert reading.bad == ()
    return [tuple(line[code] for code in CODES) for line in reading.lines]


def written(value: Any, mark: str, day: str) -> str:
    if isinstance(value, Decimal):
        return f"{value:f}".replace(".", mark)
    return value.strftime(day) if isinstance(value, date) else value


@settings(max_examples=60, deadline=None)
@given(
    ROWS,
    st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", ",")]),
    st.sampled_from(["%Y-%m-%d", "%d.%m.%Y", "%d %b %Y", "%m/%d/%Y"]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
)
def test_a_written_file_is_understood(
    rows: list, marks: tuple[str, str], day: str, encoding: str
) -> None:
    delimiter, mark = marks
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, delimiter=delimiter)
    writer.writerow(HEADERS)
    writer.writerows([[written(value, mark, day) for value in row] for row in rows])
    choices = {"date_order": "mdy"} if day == "%m/%d/%Y" and _is_asked(rows) else {}
    content = stream.getvalue().encode(encoding)
    assert understood(content, "floats.csv", **choices) == rows


def _is_asked(rows: list) -> bool:
    """Whether a slashed day is in the file that is not the same both ways."""
    return any(day.day != day.month for row in rows for day in row[-2:])


@settings(max_examples=25, deadline=None)
@given(ROWS)
def test_a_workbook_is_understood(rows: list) -> None:
    cells = [[float(value) if isinstance(value, Decimal) else value for value in row]
             for row in rows]  # fmt: skip
    content = make_workbook([HEADERS, *cells])
    assert understood(content, "floats.xlsx") == rows


@pytest.mark.parametrize(
    ("name", "cleaned"),
    [
        ("../../etc/floats.csv", "floats.csv"),
        ("C:\\lab\\floats.csv", "floats.csv"),
        ("  floats.csv ", "floats.csv"),
    ],
)
def test_only_the_name_of_a_file_is_kept(name: str, cleaned: str) -> None:
    assert clean_file_name(name) == cleaned


@pytest.mark.parametrize("name", ["", "a\x00.csv", "x" * 201 + ".csv", "a\n.csv"])
def test_names_that_are_none_are_refused(name: str) -> None:
    with pytest.raises(BadInput):
        clean_file_name(name)
