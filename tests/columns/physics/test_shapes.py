"""Diffused shapes against the series solution of the closed column."""

import numpy as np
import pytest

from columns.physics.shapes import DiffusedShapes
from tests.columns.physics.reference import reference

# Fourier solution for a linear start between closed ends, 30-digit series.
SERIES = reference("07a")


@pytest.mark.parametrize("row", SERIES["table"], ids=lambda row: f"tau={row['tau']}")
def test_the_linear_shape_decays_as_the_series(row):
    places = [point["zeta"] for point in row["values"]]
    values, _ = DiffusedShapes([[row["tau"]]]).at([places])
    theta = 0.5 + values[0, 0, :, 1] / 2
    assert theta == pytest.approx([point["theta"] for point in row["values"]], abs=2e-9)


@pytest.mark.parametrize("row", SERIES["mid_gradient_table"], ids=lambda row: f"tau={row['tau']}")
def test_the_middle_slope_decays_as_the_series(row):
    _, slopes = DiffusedShapes([[row["tau"]]]).at([[0.5]])
    assert slopes[0, 0, 0, 1] / 2 == pytest.approx(row["value"], abs=1e-9)


def test_undisturbed_shapes_are_legendre_polynomials_away_from_the_ends():
    place = np.linspace(0.2, 0.8, 7)
    values, _ = DiffusedShapes([[1e-6]]).at([place])
    polynomials = np.polynomial.legendre.legvander(2 * place - 1, 3)
    assert values[0, 0] == pytest.approx(polynomials, abs=1e-4)


def test_no_shape_flows_through_an_end_and_none_gains_or_loses_substance():
    place = (np.arange(2000) + 0.5) / 2000
    values, slopes = DiffusedShapes([[0.002]]).at([np.concatenate([[0.0], place, [1.0]])])
    assert np.abs(slopes[0, 0, [0, -1]]).max() < 1e-9
    assert values[0, 0, 1:-1].mean(axis=0) == pytest.approx([1, 0, 0, 0], abs=1e-6)
