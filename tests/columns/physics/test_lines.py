"""Least squares against certified and published values."""

import math

import numpy as np
import pytest

from columns.physics import errors, fit_line, least_squares
from tests.columns.physics.reference import reference

# NIST Statistical Reference Datasets, Norris: certified to 15 digits.
NORRIS = reference("06a")
# JCGM 100:2008, H.3: thermometer calibrated by a straight line about 20 °C.
THERMOMETER = reference("06c")
# Six floats, quadratic solved in 40-digit arithmetic.
QUADRATIC = reference("04e")["polynomial_degree_2"]


def digits_of_agreement(value, certified):
    """Log relative error, as the data sets' authors define it; 15 when equal."""
    return 15.0 if value == certified else -math.log10(abs(value - certified) / abs(certified))


@pytest.mark.parametrize(
    ("attribute", "certified"),
    [
        ("intercept", "B0"),
        ("slope", "B1"),
        ("standard_uncertainty_intercept", "sd_B0"),
        ("standard_uncertainty_slope", "sd_B1"),
        ("residual_sd", "residual_sd"),
    ],
)
def test_norris_agrees_to_ten_digits(attribute, certified):
    fit = fit_line(NORRIS["x"], NORRIS["y"])
    expected = NORRIS["certified"][certified]
    assert digits_of_agreement(getattr(fit, attribute), expected) >= 10


def test_norris_degrees_of_freedom():
    assert fit_line(NORRIS["x"], NORRIS["y"]).degrees_of_freedom == 34


def test_gum_h3_coefficients_and_their_covariance():
    fit = fit_line(np.array(THERMOMETER["t"]) - 20.0, THERMOMETER["b"])
    expected = THERMOMETER["unrounded"]
    assert fit.intercept == pytest.approx(expected["y1"], rel=1e-8)
    assert fit.standard_uncertainty_intercept == pytest.approx(expected["u_y1"], rel=1e-8)
    assert fit.slope == pytest.approx(expected["y2"], rel=1e-8)
    assert fit.standard_uncertainty_slope == pytest.approx(expected["u_y2"], rel=1e-8)
    assert fit.correlation_of_coefficients == pytest.approx(expected["r"], rel=1e-8)
    assert fit.residual_sd == pytest.approx(expected["s"], rel=1e-8)


def test_gum_h3_prediction_needs_the_covariance():
    """JCGM 100:2008, H.3.4: b(30 °C) = -0.1494 °C with u = 0.0041 °C."""
    fit = fit_line(np.array(THERMOMETER["t"]) - 20.0, THERMOMETER["b"])
    value, uncertainty = fit.at(10.0)
    assert value == pytest.approx(THERMOMETER["unrounded"]["b_30C"], rel=1e-8)
    assert uncertainty == pytest.approx(THERMOMETER["unrounded"]["u_b_30C"], rel=1e-8)
    assert round(value, 4) == THERMOMETER["published"]["b_30C"]
    assert round(uncertainty, 4) == THERMOMETER["published"]["u_b_30C"]


def test_gum_h3_does_not_depend_on_the_chosen_zero():
    about_20 = fit_line(np.array(THERMOMETER["t"]) - 20.0, THERMOMETER["b"]).at(10.0)
    about_0 = fit_line(THERMOMETER["t"], THERMOMETER["b"]).at(30.0)
    assert about_0 == pytest.approx(about_20, rel=1e-9)


def test_a_centred_parabola_agrees_with_forty_digit_arithmetic():
    floats = reference("04e")["floats"]
    heights = np.array([each["h"] for each in floats])
    densities = np.array([each["rho"] for each in floats])
    place = heights - heights.mean()
    fit = least_squares(np.column_stack([np.ones(6), place, place**2]), densities)
    variance = float(fit.residual_sum_of_squares) / QUADRATIC["dof"]
    assert math.sqrt(variance) == pytest.approx(QUADRATIC["residual_sd"], rel=1e-6)
    assert fit.coefficients[2] == pytest.approx(QUADRATIC["coefficients"][2], rel=1e-6)
    for point in QUADRATIC["predictions"]:
        apart = point["height"] - heights.mean()
        row = np.array([1.0, apart, apart**2])
        uncertainty = math.sqrt(row @ fit.unscaled_covariance() @ row * variance)
        assert row @ fit.coefficients == pytest.approx(point["rho"], abs=1e-10)
        assert uncertainty == pytest.approx(point["u_fit_mean"], rel=1e-6)


def test_a_stack_of_problems_gives_what_each_gives_alone():
    rng = np.random.default_rng(4)
    designs, responses = rng.normal(size=(3, 8, 2)), rng.normal(size=(3, 8))
    together = least_squares(designs, responses)
    for place in range(3):
        alone = least_squares(designs[place], responses[place])
        assert together.coefficients[place] == pytest.approx(alone.coefficients)


def test_two_points_make_a_line_without_scatter():
    fit = fit_line([0.0, 2.0], [1.0, 5.0])
    assert (fit.intercept, fit.slope) == pytest.approx((1.0, 2.0))
    assert fit.residual_sd == 0.0
    assert fit.degrees_of_freedom == 0


@pytest.mark.parametrize(("x", "y"), [([1.0], [1.0]), ([2.0, 2.0], [1.0, 3.0]), ([1, 2], [1])])
def test_points_at_one_place_are_refused(x, y):
    with pytest.raises(errors.NotEnoughPoints):
        fit_line(x, y)


def test_more_coefficients_than_points_are_refused():
    with pytest.raises(errors.NotEnoughPoints):
        least_squares(np.ones((2, 3)), np.ones(2))
