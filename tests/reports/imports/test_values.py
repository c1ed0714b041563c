"""Cells say a decimal, a day, an instant or a text, or they are refused with an example."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.imports.cells import DATE, FORMULA, NUMBER, TIME, TRUTH, Cell, text_cell
from reports.imports.values import (
    Marks,
    Unreadable,
    read_day,
    read_decimal,
    read_instant,
    read_text,
)

LONDON = ZoneInfo("Europe/London")
POINTS = Marks(zone=LONDON)
COMMAS = Marks(zone=LONDON, decimal_mark=",")
DAY_FIRST = Marks(zone=LONDON, date_order="dmy")
MONTH_FIRST = Marks(zone=LONDON, date_order="mdy")


@pytest.mark.parametrize(
    ("text", "marks", "value"),
    [
        ("412.5", POINTS, "412.5"),
        ("412,5", COMMAS, "412.5"),
        (" 412 ", COMMAS, "412"),
        ("-3", POINTS, "-3"),
        ("0.9051", POINTS, "0.9051"),
        ("1.234", POINTS, "1.234"),
    ],
)
def test_decimals(text: str, marks: Marks, value: str) -> None:
    assert read_decimal(text_cell(text), marks) == Decimal(value)


@pytest.mark.parametrize(
    ("text", "marks"),
    [
        ("412,5", POINTS),  # never 4125
        ("412.5", COMMAS),
        ("1.234,5", COMMAS),
        ("1.234,5", POINTS),
        ("1 234.5", POINTS),
        ("1'234.5", POINTS),
        ("abc", POINTS),
        ("NaN", POINTS),
        ("1e999", POINTS),
        ("1E5", POINTS),
        ("٤١٢", POINTS),
        ("４１２", POINTS),
        ("412.5 mm", POINTS),
        ("=412.5", POINTS),
    ],
)
def test_doubtful_decimals_are_refused(text: str, marks: Marks) -> None:
    with pytest.raises(Unreadable, match="number"):
        read_decimal(text_cell(text), marks)


def test_numbers_of_a_sheet_need_no_mark() -> None:
    assert read_decimal(Cell("412.5", NUMBER), COMMAS) == Decimal("412.5")


@pytest.mark.parametrize("kind", [FORMULA, DATE, TIME, TRUTH])
def test_other_cells_of_a_sheet_are_no_numbers(kind: str) -> None:
    with pytest.raises(Unreadable):
        read_decimal(Cell("412.5", kind), POINTS)


def test_a_formula_is_never_calculated_nor_kept() -> None:
    for read in (lambda cell: read_text(cell, 80), lambda cell: read_day(cell, POINTS)):
        with pytest.raises(Unreadable, match="formula"):
            read(Cell("=A1+1", FORMULA))


@pytest.mark.parametrize(
    ("text", "marks", "day"),
    [
        ("2026-10-06", POINTS, date(2026, 10, 6)),
        ("2026/10/6", POINTS, date(2026, 10, 6)),
        ("6.10.2026", DAY_FIRST, date(2026, 10, 6)),
        ("06/10/2026", DAY_FIRST, date(2026, 10, 6)),
        ("10/06/2026", MONTH_FIRST, date(2026, 10, 6)),
        ("6 Oct 2026", POINTS, date(2026, 10, 6)),
        ("6-October-2026", POINTS, date(2026, 10, 6)),
        ("6. oct. 2026", POINTS, date(2026, 10, 6)),
    ],
)
def test_days(text: str, marks: Marks, day: date) -> None:
    assert read_day(text_cell(text), marks) == day


@pytest.mark.parametrize(
    "text",
    ["30.02.2026", "2026-13-01", "6.10.26", "6 Octopus 2026", "1 Nov", "soon", "2026-10-06 10:04"],
)
def test_days_that_do_not_exist_or_are_not_days_are_refused(text: str) -> None:
    with pytest.raises(Unreadable):
        read_day(text_cell(text), DAY_FIRST)


@pytest.mark.parametrize(
    ("text", "instant"),
    [
        ("2026-10-06 10:04", datetime(2026, 10, 6, 9, 4, tzinfo=UTC)),  # summer time
        ("2026-12-06 10:04:31", datetime(2026, 12, 6, 10, 4, 31, tzinfo=UTC)),
        ("06.10.2026 10.04", datetime(2026, 10, 6, 9, 4, tzinfo=UTC)),
        ("6 Oct 2026, 2:05 pm", datetime(2026, 10, 6, 13, 5, tzinfo=UTC)),
        ("6 Oct 2026 12:05 AM", datetime(2026, 10, 5, 23, 5, tzinfo=UTC)),
        ("2026-10-06T10:04:31+02:00", datetime(2026, 10, 6, 8, 4, 31, tzinfo=UTC)),
        ("2026-10-25 01:30 +0000", datetime(2026, 10, 25, 1, 30, tzinfo=UTC)),
        ("2026-10-25 01:30Z", datetime(2026, 10, 25, 1, 30, tzinfo=UTC)),
    ],
)
def test_instants(text: str, instant: datetime) -> None:
    assert read_instant(text_cell(text), DAY_FIRST) == instant


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-10-25 01:30", "came twice"),
        ("2026-03-29 01:30", "put forward"),
        ("2026-10-06", "clock time"),
        ("2026-10-06 24:00", "23:59"),
        ("2026-10-06 10:61", "23:59"),
        ("2026-10-06 13:00 pm", "23:59"),
        ("2026-10-06 10:04 +99:00", "offset"),
        ("10:04", "a day such as"),
        ("6/10/26 10:04", "four digits"),
    ],
)
def test_instants_that_are_not_one_instant_are_refused(text: str, expected: str) -> None:
    with pytest.raises(Unreadable, match=expected):
        read_instant(text_cell(text), DAY_FIRST)


def test_midnight_of_a_sheet_is_an_instant() -> None:
    assert read_instant(Cell("2026-12-06", DATE), POINTS) == datetime(2026, 12, 6, tzinfo=UTC)


@pytest.mark.parametrize("text", ["a\x07b", "two\nlines", "x" * 81, "a\u2028b"])
def test_control_characters_and_long_texts_are_refused(text: str) -> None:
    with pytest.raises(Unreadable):
        read_text(text_cell(text), 80)


@pytest.mark.parametrize("text", ["👩‍🔬", "<script>alert(1)</script>", "\u202eabc", "Ø µ"])
def test_unusual_text_is_kept(text: str) -> None:
    assert read_text(text_cell(text), 80) == text


def test_a_text_that_a_sheet_made_a_date_is_refused() -> None:
    with pytest.raises(Unreadable, match="what was typed is lost"):
        read_text(Cell("2026-04-03", DATE), 80)


@given(st.decimals("-9999", "9999", allow_nan=False, places=3), st.sampled_from([POINTS, COMMAS]))
def test_a_written_decimal_is_read_back(value: Decimal, marks: Marks) -> None:
    text = f"{value:f}".replace(".", marks.decimal_mark)
    assert read_decimal(text_cell(text), marks) == value


@given(st.datetimes(datetime(1971, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC)))
def test_a_written_instant_is_read_back(instant: datetime) -> None:
    instant = instant.replace(microsecond=0)
    assert read_instant(text_cell(instant.isoformat()), POINTS) == instant
