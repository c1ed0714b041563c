"""Rounding, formatting and reading of typed numbers."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsite import quantities
from labsite.quantities import NO_BREAK_SPACE, NotADecimal, parse_decimal


def plain(text):
    return text.replace(NO_BREAK_SPACE, " ")


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("412.5", "412.5"),
        ("412,5", "412.5"),
        ("  412.50 ", "412.50"),
        ("\N{NO-BREAK SPACE}412.5\N{NO-BREAK SPACE}", "412.5"),
        ("-3", "-3"),
        ("+0.9184", "0.9184"),
        ("0,9184", "0.9184"),
        ("4125", "4125"),
        ("-0", "0"),
        ("-0,00", "0.00"),
        ("1,234", "1.234"),
    ],
)
def test_one_plain_number_is_read_as_it_stands(text, value):
    parsed = parse_decimal(text)
    assert str(parsed) == value


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "abc",
        "NaN",
        "nan",
        "Infinity",
        "1e999",
        "1E5",
        "1.234,5",
        "1,234.5",
        "1 234.5",
        "1'234.5",
        "1_000",
        "412.",
        ".5",
        ",5",
        "4 12.5",
        "412.5 mm",
        "--3",
        "- 3",
        "\N{MINUS SIGN}3",
        "\N{FULLWIDTH DIGIT FOUR}12.5",
        "\N{ARABIC-INDIC DIGIT FOUR}\N{ARABIC-INDIC DIGIT ONE}",
        "0x10",
        "412.5\x00",
        "412.5\n3",
        "9" * 13,
        "0." + "1" * 13,
        "=1+1",
        None,
        412.5,
        412,
        True,
    ],
)
def test_anything_else_is_refused_with_an_example(text):
    with pytest.raises(ValueError, match=r"412\.5") as caught:
        parse_decimal(text)
    assert isinstance(caught.value, NotADecimal)
    assert caught.value.code == "not_a_decimal"


@given(st.text(max_size=12))
def test_a_text_is_either_refused_or_finite(text):
    try:
        value = parse_decimal(text)
    except NotADecimal:
        return
    assert value.is_finite()
    assert not (value == 0 and value.is_signed())


@given(st.decimals(min_value=-9999, max_value=9999, places=4))
def test_point_and_comma_give_the_same(value):
    text = f"{value:f}"
    assert parse_decimal(text) == parse_decimal(text.replace(".", ",")) == value


@pytest.mark.parametrize(
    ("exact", "stored"),
    [
        (Fraction(1, 3), "0.3333333"),
        (Fraction(2, 3), "0.6666667"),
        (Decimal("0.91845005"), "0.9184500"),  # half to the even 0
        (Decimal("0.91845015"), "0.9184502"),  # half to the even 2
        (Decimal("0.918450150000000000000000000000001"), "0.9184502"),
        (Decimal("0.918450050000000000000000000000001"), "0.9184501"),
        (0.1 + 0.2, "0.3000000"),
        (-4e-8, "0.0000000"),
        (Decimal("-0"), "0.0000000"),
        (7, "7.0000000"),
    ],
)
def test_storing_rounds_half_even_to_seven_places(exact, stored):
    assert quantities.written(quantities.stored(exact)) == stored


def test_the_reported_figure_is_rounded_from_the_stored_one():
    """docs/algorithms/rounding.md: 0.918349996 would give 0.9183 at once, 0.9184 in two steps."""
    exact = Decimal("0.91834999996")
    assert str(quantities.stored(exact)) == "0.9183500"
    assert str(quantities.reported(exact)) == "0.9184"
    assert str(quantities.rounded(exact, 4)) == "0.9183"


@pytest.mark.parametrize(
    ("stored", "reported"),
    [("0.9184500", "0.9184"), ("0.9183500", "0.9184"), ("0.9184501", "0.9185")],
)
def test_reporting_rounds_half_even_to_four_places(stored, reported):
    assert str(quantities.reported(Decimal(stored))) == reported


@pytest.mark.parametrize(
    "value", [float("nan"), float("inf"), Decimal("NaN"), Decimal("-Infinity")]
)
def test_what_is_not_finite_is_never_stored(value):
    with pytest.raises(ValueError, match="not a number"):
        quantities.stored(value)


@given(st.fractions(min_value=-5, max_value=5))
def test_rounding_is_within_half_a_unit_and_repeats(value):
    figure = quantities.stored(value)
    assert abs(Fraction(figure) - value) <= Fraction(1, 2 * 10**7)
    assert quantities.stored(figure) == figure
    assert not (figure == 0 and figure.is_signed())


@pytest.mark.parametrize(
    ("uncertainty", "reported"),
    [
        (0.0002, "0.0002"),
        (0.00020001, "0.0002"),
        (0.0002001, "0.0003"),
        (0.00011, "0.0002"),
        (1e-6, "0.0001"),
        (0, "0.0000"),
    ],
)
def test_an_uncertainty_is_rounded_up_from_its_stored_figure(uncertainty, reported):
    assert str(quantities.reported_uncertainty(uncertainty)) == reported


def test_a_result_has_value_and_uncertainty_in_the_same_places():
    text = quantities.format_result(Decimal("0.9183796"), 0.00016)
    assert plain(text) == "0.9184 ± 0.0002 g/cm³"
    comma = quantities.format_result(Decimal("0.9183796"), 0.00016, unit=False, decimal_mark=",")
    assert plain(comma) == "0,9184 ± 0,0002"


def test_densities_have_the_places_of_their_page():
    value = Decimal("0.9183796")
    assert quantities.format_density(value) == "0.9184"
    assert quantities.format_density(value, places=quantities.WORKING_PLACES) == "0.91838"
    assert quantities.format_density(value, places=quantities.STORED_PLACES) == "0.9183796"
    assert plain(quantities.format_density(value, unit=True)) == "0.9184 g/cm³"


@pytest.mark.parametrize(
    ("value", "text"),
    [(4.1e-5, "+0.00004"), (-2e-5, "−0.00002"), (0, "0.00000"), (-1e-7, "0.00000")],
)
def test_a_misfit_always_has_its_sign(value, text):
    assert quantities.format_misfit(value) == text


def test_a_misfit_in_millimetres():
    assert plain(quantities.format_misfit(-0.34, places=1, unit="mm")) == "−0.3 mm"


@pytest.mark.parametrize(
    ("height", "division", "text"),
    [
        ("466.5", "0.5", "466.5"),
        ("466", "0.5", "466.0"),
        ("466.50", "1", "466.5"),
        ("466", "1", "466"),
        ("466.50", "0.50", "466.5"),
        ("500", "10", "500"),
        ("-3.5", "0.5", "−3.5"),
    ],
)
def test_heights_have_the_places_of_their_scale(height, division, text):
    assert quantities.format_height(Decimal(height), Decimal(division)) == text


def test_temperatures_have_two_places_and_sensitivities_six():
    assert plain(quantities.format_temperature(Decimal("23.1"), unit=True)) == "23.10 °C"
    assert quantities.format_temperature(Decimal("-0.001")) == "0.00"
    assert quantities.format_sensitivity(5.7e-5, decimal_mark=",") == "0,000057"
