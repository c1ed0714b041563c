"""Bytes become rows: every way of writing the same table gives the same table."""

from __future__ import annotations

import csv
import io
from datetime import datetime
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labsite.errors import LabError, RuleViolation, TooLarge, UnsupportedType
from reports.imports.cells import DATE, FORMULA, NUMBER
from reports.imports.tables import MOST_ROWS, Table, read_table
from tests.reports.imports.workbooks import bomb, fill_sheet, make_workbook, saved

ROWS = [["float", "certificate number"], ["F-101", "00123"], ["Flöte", "µ/5"]]
WORKBOOK = make_workbook(ROWS)


def texts(table: Table) -> list[list[str]]:
    return [[cell.text for cell in cells] for _number, cells in table.rows]


def written(rows: list[list[str]], *, delimiter: str = ",", end: str = "\r\n") -> str:
    stream = io.StringIO(newline="")
    csv.writer(stream, delimiter=delimiter, lineterminator=end).writerows(rows)
    return stream.getvalue()


def guessed(table: Table) -> dict[str, str]:
    return {guess.name: guess.value for guess in table.guesses}


@pytest.mark.parametrize(
    ("encoding", "named"),
    [
        ("utf-8", "utf-8"),
        ("utf-8-sig", "utf-8-sig"),
        ("utf-16", "utf-16"),
        ("utf-16-le", "utf-16-le"),
        ("utf-16-be", "utf-16-be"),
        ("cp1252", "cp1252"),
    ],
)
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encoding_delimiter_and_line_end_are_found(
    encoding: str, named: str, delimiter: str, end: str
) -> None:
    content = written(ROWS, delimiter=delimiter, end=end).encode(encoding)
    table = read_table("floats.csv", content, {})
    assert texts(table) == ROWS[1:]
    assert [cell.text for cell in table.headers] == ROWS[0]
    assert guessed(table) == {"encoding": named, "delimiter": delimiter}


def test_big_endian_mark_is_read() -> None:
    content = b"\xfe\xff" + written(ROWS).encode("utf-16-be")
    assert texts(read_table("floats.csv", content, {})) == ROWS[1:]


def test_known_headers_decide_between_delimiters() -> None:
    content = b"lot;note, by hand, of the day\r\nA;b\r\n"
    table = read_table("a.csv", content, {}, recognise=lambda text: text == "lot")
    assert guessed(table)["delimiter"] == ";"


def test_a_written_declaration_of_the_delimiter_is_followed() -> None:
    table = read_table("a.csv", b"sep=;\r\nlot;note\r\n00123;x\r\n", {})
    assert guessed(table)["delimiter"] == ";"
    assert table.rows[0][0] == 3
    assert texts(table) == [["00123", "x"]]


def test_quotes_blank_lines_and_row_numbers() -> None:
    content = b'lot,note\r\n\r\n"A,1","he said ""so"""\r\n,\r\nB,\r\n\r\n\r\n'
    table = read_table("a.csv", content, {})
    assert [(number, [c.text for c in cells]) for number, cells in table.rows] == [
        (3, ["A,1", 'he said "so"']),
        (5, ["B", ""]),
    ]


def test_text_that_looks_like_number_date_or_formula_stays_text() -> None:
    content = b"lot,note\n00123,1E5\n3-4,=HYPERLINK(1)\n+cmd,@x\n"
    table = read_table("a.csv", content, {})
    assert texts(table) == [["00123", "1E5"], ["3-4", "=HYPERLINK(1)"], ["+cmd", "@x"]]


def test_choices_replace_guesses() -> None:
    content = "lot;note\nA,1;é\n".encode("cp1252")
    table = read_table("a.csv", content, {"encoding": "cp1252", "delimiter": ","})
    assert texts(table) == [["A", "1;é"]]


@pytest.mark.parametrize(
    ("choices", "code", "field"),
    [
        ({"encoding": "rot13"}, "choice_unknown", "encoding"),
        ({"encoding": "utf-8"}, "encoding_wrong", "encoding"),
        ({"delimiter": "|"}, "choice_unknown", "delimiter"),
    ],
)
def test_choices_that_do_not_fit_are_refused(choices: dict, code: str, field: str) -> None:
    with pytest.raises(RuleViolation) as refused:
        read_table("a.csv", "lot;note\nA;é\n".encode("cp1252"), choices)
    assert refused.value.code == code
    assert field in refused.value.fields


@pytest.mark.parametrize(
    ("name", "content", "error", "code"),
    [
        ("a.csv", make_workbook(ROWS), UnsupportedType, "workbook_named_csv"),
        ("a.xlsx", written(ROWS).encode(), UnsupportedType, "text_named_xlsx"),
        ("a.xlsx", b"\x89PNG\r\n\x1a\n" + b"x" * 50, UnsupportedType, "file_type"),
        ("a.csv", b"\x89PNG\r\n\x1a\n" + b"x" * 50, UnsupportedType, "file_type"),
        ("a.csv", b"\xff\xd8\xff\xe0" + b"x" * 50, UnsupportedType, "file_type"),
        ("a.csv", b"%PDF-1.7 " + b"x" * 50, UnsupportedType, "file_type"),
        ("a.xlsx", b"\xd0\xcf\x11\xe0" + b"x" * 50, UnsupportedType, "file_type"),
        ("a.xlsx", b"PK\x03\x04" + b"x" * 50, UnsupportedType, "file_damaged"),
        ("a.exe", b"MZ" + b"x" * 50, UnsupportedType, "file_type"),
        ("a", b"lot,note\nA,b\n", UnsupportedType, "file_type"),
        ("a.csv", b"lot,note\nA,b\x00c,\x00\x00\n", UnsupportedType, "file_type"),
        ("a.csv", b"", LabError, "file_empty"),
        ("a.csv", b" \r\n\r\n", LabError, "file_empty"),
        ("a.csv", b"lot,note\r\n", RuleViolation, "no_rows"),
        ("a.csv", b'lot,note\n"A,b\n', RuleViolation, "quotes_wrong"),
        ("a.csv", b"a" * (5 * 1024 * 1024 + 1), TooLarge, "file_too_large"),
        ("a.xlsx", bomb(26 * 1024 * 1024), TooLarge, "unzipped_too_large"),
        ("a.csv", b"n\n" + b"1\n" * (MOST_ROWS + 1), RuleViolation, "too_many_rows"),
        ("a.csv", b"n," * 101 + b"n\n" + b"1," * 101 + b"1\n", RuleViolation, "too_many_columns"),
    ],
)
def test_what_cannot_be_read_is_refused(
    name: str, content: bytes, error: type[LabError], code: str
) -> None:
    with pytest.raises(error) as refused:
        read_table(name, content, {})
    assert (type(refused.value), refused.value.code) == (error, code)


def test_a_bomb_is_small_itself() -> None:
    assert len(bomb(26 * 1024 * 1024)) < 100_000


def test_workbook_keeps_texts_and_tells_numbers_dates_and_formulas() -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    fill_sheet(sheet, [["lot", "height", "note"], ["00123", 412.5, "=1+1"]])
    sheet["A3"], sheet["B3"], sheet["C3"] = 123, 0.9051, "=1+1"
    sheet["A4"] = datetime(2026, 10, 6, 10, 4)
    table = read_table("a.xlsx", saved(book), {})
    assert texts(table) == [
        ["00123", "412.5", "=1+1"],
        ["123", "0.9051", "=1+1"],
        ["2026-10-06 10:04:00"],
    ]
    cells = [cells for _number, cells in table.rows]
    assert cells[0][2].kind == "text"
    assert [cell.kind for cell in cells[1]] == [NUMBER, NUMBER, FORMULA]
    assert cells[2][0].kind == DATE


def test_binary_dust_of_a_sheet_does_not_show() -> None:
    table = read_table("a.xlsx", make_workbook([["n"], [0.1 + 0.2], [1e-7], [1e15]]), {})
    assert texts(table) == [["0.3"], ["0.0000001"], ["1000000000000000"]]


def test_the_first_visible_sheet_that_holds_something_is_taken() -> None:
    book = openpyxl.Workbook()
    book.active.title = "empty"
    hidden, first, second = (book.create_sheet(name) for name in ("hidden", "one", "two"))
    hidden.sheet_state = "hidden"
    for sheet, text in ((hidden, "h"), (first, "1"), (second, "2")):
        fill_sheet(sheet, [["lot"], [text]])
    content = saved(book)
    table = read_table("a.xlsx", content, {})
    assert (guessed(table), texts(table)) == ({"sheet": "one"}, [["1"]])
    assert texts(read_table("a.xlsx", content, {"sheet": "two"})) == [["2"]]
    with pytest.raises(RuleViolation, match="no visible sheet"):
        read_table("a.xlsx", content, {"sheet": "hidden"})


PLAIN = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs"), exclude_characters="\ufeff"),
    max_size=12,
).map(lambda text: text.strip(" \N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}"))
TABLES = st.integers(2, 5).flatmap(
    lambda width: st.lists(st.lists(PLAIN, min_size=width, max_size=width), min_size=1, max_size=6)
)


@settings(max_examples=150, deadline=None)
@given(TABLES, st.sampled_from([",", ";", "\t"]), st.sampled_from(["utf-8-sig", "utf-16"]))
def test_a_written_table_is_read_back(rows: list[list[str]], delimiter: str, encoding: str) -> None:
    headers = [f"column {index}" for index in range(len(rows[0]))]
    content = written([headers, *rows], delimiter=delimiter).encode(encoding)
    expected = [row for row in rows if any(row)]
    if not expected:
        return
    table = read_table("a.csv", content, {}, recognise=lambda text: text in headers)
    assert texts(table) == expected
    assert guessed(table)["delimiter"] == delimiter


def refusal_or_rows(name: str, content: bytes) -> Any:
    """Anything but a table or a refusal that a person can read breaks the test."""
    try:
        return read_table(name, content, {}).rows
    except LabError as refused:
        return refused.code


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=400), st.sampled_from(["a.csv", "a.xlsx"]))
def test_any_bytes_give_a_table_or_a_refusal(content: bytes, name: str) -> None:
    assert refusal_or_rows(name, content)


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_a_damaged_workbook_gives_a_table_or_a_refusal(data: st.DataObject) -> None:
    content = bytearray(WORKBOOK)
    for _turn in range(data.draw(st.integers(1, 6))):
        content[data.draw(st.integers(4, len(content) - 1))] = data.draw(st.integers(0, 255))
    assert refusal_or_rows("a.xlsx", bytes(content))
