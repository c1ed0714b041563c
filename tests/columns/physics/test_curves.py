"""The curve on simulated columns, at the edges of what may be asked, and its laws."""

from decimal import Decimal

import numpy as np
import pytest

from columns.physics import FloatReading, LiquidSpan, calibrate
from tests.columns.physics.judging import judge, number
from tests.columns.physics.sets import NINE, calibrated


@pytest.mark.parametrize("scenario", ["pe", "pp", "pet", "pe_narrow"])
@pytest.mark.parametrize(("phase", "at_most"), [("fresh", 1.0), ("mid", 0.9), ("aged", 0.75)])
def test_the_curve_beats_bracketing_and_its_interval_holds(scenario, phase, at_most):
    """Ratio of root mean square errors, and coverage of the 95 % interval, unknown liquid ends."""
    score = judge(scenario)[phase]
    assert score.rms("curve") < at_most * score.rms("bracketing")
    assert 0.89 <= np.mean(score.held) <= 0.995


def test_known_liquid_ends_are_used_and_hold_as_well():
    score = judge("pe", known_liquid=True)["aged"]
    assert score.rms("curve") < 0.65 * score.rms("bracketing")
    assert np.mean(score.held) >= 0.9


def evenly(count, lightest, densest, *, low=100.0, high=620.0, u=1e-4, height_u=0.4, liquid=None):
    floats = [
        FloatReading(
            id=f"F{place}",
            density_g_cm3=number(round(density, 7)),
            standard_uncertainty_g_cm3=u,
            height_mm=number(round(height, 4)),
        )
        for place, (density, height) in enumerate(
            zip(np.linspace(densest, lightest, count), np.linspace(low, high, count), strict=True)
        )
    ]
    return calibrate(floats, height_standard_uncertainty_mm=height_u, liquid=liquid)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("count", [5, 6, 9, 15, 30])
@pytest.mark.parametrize(
    ("lightest", "densest"),
    [(0.905, 0.945), (0.892, 0.912), (1.33, 1.41), (0.79, 2.85), (0.9, 0.9005)],
)
@pytest.mark.parametrize(("u", "height_u"), [(1e-4, 0.4), (0.0, 0.0), (0.0, 0.4), (1e-7, 1e-3)])
def test_a_straight_column_gives_a_straight_curve(count, lightest, densest, u, height_u):
    """Within a tenth of a per cent of the span, whatever the floats' number, span and u."""
    column = evenly(count, lightest, densest, u=u, height_u=height_u)
    for share in (0.02, 0.31, 0.5, 0.97):
        found = column.density_at(number(100 + 520 * share))
        straight = densest + (lightest - densest) * share
        low, high = found.curve.interval_95
        # u covers the case of a span not much larger than the certificates' errors.
        assert found.curve.density_g_cm3 == pytest.approx(
            straight, abs=0.002 * (densest - lightest) + u
        )
        assert low < found.curve.density_g_cm3 < high


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(
    "options",
    [
        {"low": 1e7, "high": 1e7 + 500},
        {"low": 100.0, "high": 1e5},
        {"low": 0.001, "high": 0.009},
        {"u": 1.0, "height_u": 50.0},
        {"liquid": LiquidSpan(bottom_mm=Decimal(100), top_mm=Decimal(620))},
        {"liquid": LiquidSpan(bottom_mm=Decimal(-5000), top_mm=Decimal(9000))},
    ],
    ids=["far datum", "long", "short", "huge u", "liquid ends at floats", "liquid far beyond"],
)
def test_odd_columns_give_finite_figures(options):
    column = evenly(9, 0.905, 0.945, **options)
    middle = (options.get("low", 100.0) + options.get("high", 620.0)) / 2
    found = column.density_at(number(middle)).curve
    low, high = found.interval_95
    assert np.isfinite([found.density_g_cm3, found.standard_uncertainty_g_cm3, low, high]).all()
    assert low < found.density_g_cm3 < high


def test_another_datum_changes_nothing():
    moved = [(name, density, str(Decimal(height) + 1000)) for name, density, height in NINE]
    here = calibrated().density_at(Decimal("401")).curve
    there = calibrated(moved).density_at(Decimal("1401")).curve
    assert there.density_g_cm3 == pytest.approx(here.density_g_cm3, abs=1e-11)
    assert there.interval_95 == pytest.approx(here.interval_95, abs=1e-9)


def test_the_same_set_gives_the_same_bytes_again():
    one, two = (calibrated().density_at(Decimal("401")).curve for _ in range(2))
    assert one == two


def test_a_common_certificate_part_stays_whole_however_many_floats():
    column = calibrated(extra={"common_standard_uncertainty_g_cm3": 0.00009})
    found = column.density_at(Decimal("401")).curve
    assert found.from_curve_g_cm3 > 0.00009
    shared = column.covariance([Decimal("401"), Decimal("180")]).curve
    assert shared[0][1] == pytest.approx(0.00009**2, rel=0.2)


def test_specimens_on_one_curve_share_its_error():
    column = calibrated()
    matrix = np.array(column.covariance([Decimal("401"), Decimal("402"), Decimal("200")]).curve)
    own = column.density_at(Decimal("401")).curve.from_curve_g_cm3
    assert matrix == pytest.approx(matrix.T)
    assert np.linalg.eigvalsh(matrix).min() > -1e-16
    assert matrix[0, 0] == pytest.approx(own**2, rel=1e-9)
    assert matrix[0, 1] > 0.95 * matrix[0, 0]
    assert abs(matrix[0, 2]) < 0.3 * matrix[0, 0]


def test_a_bad_float_pulls_the_curve_less_than_bracketing():
    rows = [list(row) for row in NINE]
    rows[4][2] = str(Decimal(rows[4][2]) + 15)
    truth = calibrated().density_at(Decimal("395")).curve.density_g_cm3
    found = calibrated(rows).density_at(Decimal("395"))
    assert abs(found.curve.density_g_cm3 - truth) < 0.5 * abs(
        found.bracketing.density_g_cm3 - truth
    )
    assert [each.float for each in calibrated(rows).findings] == ["F-105"]


def test_residuals_of_floats_without_error_are_small():
    column = evenly(9, 0.905, 0.945)
    assert max(abs(each.residual_g_cm3) for each in column.floats) < 3e-5
    assert max(abs(each.studentised_residual) for each in column.floats) < 1.0
