"""Mean, range and scatter of specimens, exactly."""

from decimal import Decimal
from fractions import Fraction

import pytest

from samples.stats import check_spread, errors, pool_scatter, summarise_replicates
from tests.columns.physics.reference import reference

# Three specimens of the column example, solved in 40-digit arithmetic.
COLUMN = reference("04e")
THREE = [Decimal("0.91837"), Decimal("0.91845"), Decimal("0.91842")]


def test_the_column_example():
    densities = [
        Fraction(Decimal(repr(low["rho"])))
        + Fraction(Decimal(repr(each["height"])) - Decimal(repr(low["h"])))
        * Fraction(Decimal(repr(high["rho"])) - Decimal(repr(low["rho"])))
        / Fraction(Decimal(repr(high["h"])) - Decimal(repr(low["h"])))
        for each in COLUMN["neighbour_interpolation"]
        for low, high in [(each["float_low"], each["float_high"])]
    ]
    found = summarise_replicates(densities)
    assert float(found.mean_exact) == pytest.approx(COLUMN["mean_of_interpolated"], abs=1e-8)
    assert found.sd == pytest.approx(COLUMN["sd_of_interpolated"], abs=5e-9)


def test_the_worked_example_of_the_docs():
    """docs/algorithms/replicates.md."""
    found = summarise_replicates(THREE)
    assert found.mean_exact == Fraction(275524, 300000)
    assert found.range_exact == Fraction(8, 100000)
    assert found.sd == pytest.approx(4.041452e-5, rel=1e-6)
    assert found.degrees_of_freedom == 2


def test_one_specimen_has_no_scatter():
    found = summarise_replicates([Decimal("0.9184")])
    assert (found.count, found.sd, found.all_equal) == (1, None, False)


def test_equal_readings_are_told():
    assert summarise_replicates([Decimal("0.9184")] * 3).all_equal
    assert not summarise_replicates(THREE).all_equal


@pytest.mark.parametrize(
    ("limit", "outcome"),
    [
        (None, "no_limit"),
        (Decimal("0.00008"), "within"),
        (Decimal("0.000079"), "exceeded"),
        (0.00008, "within"),
    ],
)
def test_the_range_is_compared_exactly_with_its_limit(limit, outcome):
    assert check_spread(THREE, limit).outcome == outcome


@pytest.mark.parametrize("limit", [0, Decimal("-0.0001"), float("inf"), "0.0001"])
def test_an_impossible_limit_is_refused(limit):
    with pytest.raises(errors.ValueNotValid):
        check_spread(THREE, limit)


def test_a_range_needs_two_specimens():
    with pytest.raises(errors.NotEnoughValues):
        check_spread(THREE[:1])
    with pytest.raises(errors.NotEnoughValues):
        summarise_replicates([])


def test_pooling_weighs_by_degrees_of_freedom():
    """Variances 1 (2 degrees) and 0 (1 degree): pooled (2*1 + 1*0) / 3; one piece says nothing."""
    pooled = pool_scatter([[-1, 0, 1], [0, Fraction(0)], [5]])
    assert (pooled.sd, pooled.degrees_of_freedom) == (pytest.approx((2 / 3) ** 0.5), 3)


def test_pooling_needs_one_determination_of_two():
    with pytest.raises(errors.NotEnoughValues):
        pool_scatter([[1], [2]])
