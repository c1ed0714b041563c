"""Headers are matched with their units; decimal marks and day orders are guessed or asked."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labsite.errors import RuleViolation
from reports.imports.cells import text_cell
from reports.imports.fields import (
    CELSIUS,
    DECIMAL,
    DENSITY,
    MILLIMETRES,
    Field,
    match_columns,
    match_header,
)
from reports.imports.guesses import guess_date_order, guess_decimal_mark, zone_guess

HEIGHT = Field("height", "Height", ("height", "position"), DECIMAL, units=MILLIMETRES, places=2)
EXPANDED = Field("expanded", "U", ("U", "expanded uncertainty"), DECIMAL, units=DENSITY, places=7)
BATH = Field("bath_temperature", "Bath", ("bath", "temperature"), DECIMAL, units=CELSIUS, places=2)
NOTE = Field("note", "Note", ("note",), required=False)
FIELDS = (HEIGHT, EXPANDED, BATH, NOTE)


@pytest.mark.parametrize(
    ("header", "code", "sign", "named"),
    [
        ("height", "height", "mm", False),
        ("Height (mm)", "height", "mm", True),
        ("HEIGHT [cm]", "height", "cm", True),
        ("height_mm", "height", "mm", True),
        ("Position, mm", "height", "mm", True),
        ("expanded uncertainty U g/cm³", None, None, None),
        ("Expanded uncertainty, g/cm³", "expanded", "g/cm³", True),
        ("U (kg/m3)", "expanded", "kg/m³", True),
        ("expanded_uncertainty_g_cm3", "expanded", "g/cm³", True),
        ("u", None, None, None),
        ("bath temperature (°C)", "bath_temperature", "°C", True),
        ("temperature [K]", "bath_temperature", "K", True),
        ("height (inch)", None, None, None),
        ("something", None, None, None),
    ],
)
def test_headers(header: str, code: str | None, sign: str | None, named: bool | None) -> None:
    found = match_header(header, FIELDS)
    if code is None:
        assert found is None
    else:
        assert (found[0].code, found[1].sign, found[2]) == (code, sign, named)


def test_units_are_converted_exactly() -> None:
    assert MILLIMETRES[1].convert(Decimal("41.25")) == Decimal("412.50")
    assert DENSITY[1].convert(Decimal("905.1")) == Decimal("0.9051")
    assert CELSIUS[1].convert(Decimal("296.15")) == Decimal("23.00")


@pytest.mark.parametrize(
    ("headers", "fields"),
    [
        (["height", "U"], {"missing": ["Bath"]}),
        (["height", "U", "bath", "colour"], {"unknown": ["colour"]}),
        (["height", "Height (cm)", "U", "bath"], {"double": ["height", "Height (cm)"]}),
        (["height", "bath", "x"], {"missing": ["U"], "unknown": ["x"]}),
    ],
)
def test_wrong_headers_are_refused_before_any_row(headers: list, fields: dict) -> None:
    with pytest.raises(RuleViolation) as refused:
        match_columns([text_cell(header) for header in headers], FIELDS)
    assert refused.value.code == "columns_wrong"
    assert refused.value.fields == fields


def cells(*texts: str) -> list:
    return [text_cell(text) for text in texts]


def test_decimal_mark_is_found() -> None:
    assert guess_decimal_mark(cells("412,5", "3"), ";", None).value == ","
    assert guess_decimal_mark(cells("412.5", "3"), ";", None).value == "."
    assert guess_decimal_mark(cells("412", "3"), "\t", None).value == "."


def test_two_decimal_marks_are_asked_about() -> None:
    guess = guess_decimal_mark(cells("412.5", "412,5"), ";", None)
    assert guess.is_question
    assert not guess.value
    assert guess_decimal_mark(cells("412.5", "412,5"), ";", ",").value == ","


def test_a_comma_is_no_decimal_mark_where_it_divides_the_columns() -> None:
    assert guess_decimal_mark(cells("412,5"), ",", None).value == "."
    with pytest.raises(RuleViolation):
        guess_decimal_mark(cells("412,5"), ",", ",")


@pytest.mark.parametrize(
    ("texts", "order"),
    [
        (["2026-10-06", "6 Oct 2026"], "ymd"),
        (["06/10/2026", "13/10/2026"], "dmy"),
        (["10/06/2026", "10/13/2026"], "mdy"),
        (["06.10.2026"], "dmy"),
        (["10.10.2026"], "dmy"),
        (["06/06/2026"], "ymd"),
        (["06/10/2026"], ""),
        (["13/10/2026", "10/13/2026"], ""),
        (["06.10.2026", "06/10/2026"], ""),
    ],
)
def test_date_order_is_found_or_asked(texts: list[str], order: str) -> None:
    guess = guess_date_order(cells(*texts), None)
    assert guess.value == order
    assert guess.is_question == (order == "")
    if guess.is_question:
        assert guess_date_order(cells(*texts), "mdy").value == "mdy"


def test_zone_is_named_with_its_offsets() -> None:
    guess = zone_guess(None, "Europe/London", ["+01:00", "+01:00", "+00:00"])
    assert guess.why.endswith("UTC +01:00, +00:00")
    with pytest.raises(RuleViolation):
        zone_guess("Nowhere/Land", "Europe/London")
