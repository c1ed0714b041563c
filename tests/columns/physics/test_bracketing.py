"""Bracketing against published and computed values."""

from decimal import Decimal
from fractions import Fraction

import pytest

from columns.physics import FloatReading, calibrate
from tests.columns.physics.reference import reference
from tests.columns.physics.sets import NINE, calibrated, readings

# Formula ASTM D1505-18, 10.1.2; uncertainty by JCGM 100:2008, clause 5; computed case by case.
CASES = reference("04d")["cases"]
# Six floats and three specimens, solved in 40-digit arithmetic.
COLUMN = reference("04e")


def _case_floats(case):
    """A correlation of 1 is a certificate whose whole uncertainty is common."""
    for name in "ab":
        yield FloatReading(
            id=name,
            density_g_cm3=Decimal(repr(case[name])),
            standard_uncertainty_g_cm3=case[f"u_{name}"],
            height_mm=Decimal(repr(case["y" if name == "a" else "z"])),
            common_standard_uncertainty_g_cm3=case[f"u_{name}"] * case["corr_ab"],
        )


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_two_floats_give_density_and_uncertainty_of_the_reference(case):
    origin = "bottom" if case["gradient_g_cm3_per_mm"] < 0 else "top"
    column = calibrate(
        _case_floats(case), origin=origin, height_standard_uncertainty_mm=case["u_y"]
    )
    found = column.density_at(Decimal(repr(case["x"]))).bracketing
    heights = (found.from_float_heights_g_cm3**2 + found.from_specimen_height_g_cm3**2) ** 0.5
    assert found.density_g_cm3 == pytest.approx(case["rho"], abs=1e-8)
    assert found.from_certificates_g_cm3 == pytest.approx(case["u_from_floats"], abs=1e-9)
    assert heights == pytest.approx(case["u_from_heights"], abs=1e-9)
    assert found.standard_uncertainty_g_cm3 == pytest.approx(case["u_c"], abs=1e-9)
    assert found.slope_g_cm3_per_mm == pytest.approx(abs(case["gradient_g_cm3_per_mm"]), rel=1e-6)


def _column_example():
    rows = [
        (f"F{place}", repr(each["rho"]), repr(each["h"]))
        for place, each in enumerate(COLUMN["floats"])
    ]
    return calibrated(rows)


def test_column_example_gives_correlation_sensitivity_and_densities():
    column = _column_example()
    assert column.correlation == pytest.approx(COLUMN["correlation_r"], abs=1e-9)
    assert column.passes is COLUMN["passes_abs_r_0_995"]
    assert column.sensitivity_g_cm3_per_mm == pytest.approx(
        COLUMN["mean_sensitivity"]["range_over_span"], abs=1e-9
    )
    for expected in COLUMN["neighbour_interpolation"]:
        found = column.density_at(Decimal(repr(expected["height"]))).bracketing
        assert found.density_g_cm3 == pytest.approx(expected["rho"], abs=1e-8)
        assert found.lower_float == "F1"
        assert found.upper_float == "F2"


def test_column_example_gives_the_straight_line_of_the_chart():
    line, expected = _column_example().line, COLUMN["polynomial_degree_1"]
    assert [line.intercept, line.slope] == pytest.approx(expected["coefficients"], rel=1e-10)
    assert line.residual_sd == pytest.approx(expected["residual_sd"], rel=1e-6)
    for point in expected["predictions"]:
        value, uncertainty = line.at(point["height"])
        assert value == pytest.approx(point["rho"], abs=1e-9)
        assert uncertainty == pytest.approx(point["u_fit_mean"], rel=1e-6)


def test_the_density_is_an_exact_rational():
    found = calibrated().density_at(Decimal("401.0")).bracketing
    by_hand = Fraction(9249, 10000) + Fraction(285, 575) * Fraction(9202 - 9249, 10000)
    assert found.density_exact == by_hand


@pytest.mark.parametrize("row", NINE, ids=lambda row: row[0])
def test_exactly_on_a_float_gives_that_floats_density(row):
    found = calibrated().density_at(Decimal(row[2]))
    assert found.outcome == "measured"
    assert found.bracketing.density_exact == Fraction(row[1])


@pytest.mark.parametrize(
    ("height", "outcome", "bound"),
    [("612.6", "lighter", "F-101"), ("127.4", "denser", "F-109"), ("-5", "denser", "F-109")],
)
def test_outside_the_end_floats_there_is_no_number(height, outcome, bound):
    found = calibrated().density_at(Decimal(height), id="a")
    assert (found.id, found.outcome, found.bound_float) == ("a", outcome, bound)
    assert found.bracketing is None
    assert found.curve is None


def test_origin_top_gives_the_same_figures_as_origin_bottom():
    turned = [(name, density, str(700 - Decimal(height))) for name, density, height in NINE]
    from_top = calibrated(turned, origin="top")
    from_bottom = calibrated()
    above = from_top.density_at(Decimal("299.0"))
    below = from_bottom.density_at(Decimal("401.0"))
    assert above.bracketing == below.bracketing
    assert above.curve.density_g_cm3 == pytest.approx(below.curve.density_g_cm3, abs=1e-12)
    assert from_top.correlation == pytest.approx(-from_bottom.correlation, abs=1e-15)
    assert from_top.sensitivity_g_cm3_per_mm == from_bottom.sensitivity_g_cm3_per_mm
    assert from_top.gaps == from_bottom.gaps
    assert from_top.density_at(Decimal("50")).outcome == "lighter"


def test_the_order_of_floats_does_not_matter():
    forward, backward = calibrated(), calibrated(NINE[::-1])
    height = Decimal("333.5")
    assert forward.density_at(height).bracketing == backward.density_at(height).bracketing


def test_a_height_follows_from_a_density_and_back():
    column = calibrated()
    height = column.height_at(Decimal("0.9270"))
    assert column.density_at(height).bracketing.density_g_cm3 == pytest.approx(0.9270, abs=1e-12)
    assert column.height_at(Decimal("0.99")) is None


def test_larger_independent_uncertainties_never_give_a_smaller_result():
    small = calibrated(height_u=0.2).density_at(Decimal("401"))
    large = calibrated(height_u=0.8).density_at(Decimal("401"))
    assert large.bracketing.standard_uncertainty_g_cm3 > small.bracketing.standard_uncertainty_g_cm3


def test_specimens_between_the_same_floats_share_their_errors():
    heights = [Decimal("400"), Decimal("402"), Decimal("200")]
    matrix = calibrated().covariance(heights).bracketing
    for place, height in enumerate(heights):
        found = calibrated().density_at(height).bracketing
        assert matrix[place][place] == pytest.approx(found.shared_standard_uncertainty_g_cm3**2)
    assert matrix[0][1] == pytest.approx(matrix[0][0], rel=0.05)
    assert matrix[0][2] == 0.0


def test_a_common_certificate_part_reaches_specimens_between_other_floats():
    column = calibrate(
        readings(common_standard_uncertainty_g_cm3=0.00006), height_standard_uncertainty_mm=0.4
    )
    matrix = column.covariance([Decimal("400"), Decimal("200")]).bracketing
    assert matrix[0][1] == pytest.approx(0.00006**2, rel=1e-9)


def test_common_parts_of_different_runs_are_independent():
    floats = [
        *readings(NINE[:5], common_standard_uncertainty_g_cm3=0.00006, common_group="A"),
        *readings(NINE[5:], common_standard_uncertainty_g_cm3=0.00006, common_group="B"),
    ]
    column = calibrate(floats, height_standard_uncertainty_mm=0.4)
    assert column.covariance([Decimal("450"), Decimal("200")]).bracketing[0][1] == 0.0
