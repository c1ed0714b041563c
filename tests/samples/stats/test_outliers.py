"""Grubbs' test: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1."""

import pytest

from samples.stats import errors, grubbs_critical_value, grubbs_test
from tests.columns.physics.reference import reference

URANIUM = reference("06g")
CRITICAL = reference("06h")["grubbs"]


@pytest.mark.parametrize("row", CRITICAL, ids=lambda row: f"n={row['n']}")
@pytest.mark.parametrize("sides", [1, 2])
@pytest.mark.parametrize("significance", [0.05, 0.01])
def test_critical_values_are_those_of_the_table(row, sides, significance):
    key = f"{'one' if sides == 1 else 'two'}_sided_{str(significance).replace('.', '_')}"
    value = grubbs_critical_value(row["n"], significance, sides=sides)
    assert value == pytest.approx(row[key], abs=0.0001)
    assert value <= row["G_max_possible"] + 0.00005


def test_the_uranium_example_finds_its_outlier():
    found = grubbs_test(URANIUM["x"])
    assert found.outcome == "outlier"
    assert URANIUM["x"][found.suspect] == URANIUM["published"]["outlier"]
    assert found.statistic == pytest.approx(URANIUM["unrounded"]["G"], abs=1e-8)
    assert found.critical == pytest.approx(
        URANIUM["unrounded"]["critical_two_sided_0_05"], abs=1e-6
    )
    assert grubbs_critical_value(8, sides=1) == pytest.approx(
        URANIUM["unrounded"]["critical_one_sided_0_05"], abs=1e-6
    )


@pytest.mark.parametrize("third", [0.9184, 0.9190, 0.9999])
def test_three_specimens_cannot_decide(third):
    """However far the third is: G cannot exceed 1.1547 for n = 3 (reference 06h)."""
    assert grubbs_test([0.9184, 0.9185, third]).outcome == "cannot_decide"


def test_equal_values_have_no_outlier():
    found = grubbs_test([0.9184] * 5)
    assert (found.outcome, found.statistic) == ("no_outlier", 0.0)


def test_values_without_an_outlier():
    assert grubbs_test([0.9184, 0.9185, 0.9186, 0.9183, 0.9187]).outcome == "no_outlier"


@pytest.mark.parametrize(
    ("values", "options"),
    [([1, 2], {}), ([1, 2, float("nan")], {}), ([1, 2, "3"], {}), ([1, 2, 3], {"significance": 0})],
)
def test_what_cannot_be_tested_is_refused(values, options):
    with pytest.raises(errors.StatsError):
        grubbs_test(values, **options)
    with pytest.raises(ValueError):
        grubbs_test(values, **options)


def test_a_test_has_one_or_two_sides():
    with pytest.raises(errors.ValueNotValid):
        grubbs_critical_value(5, sides=3)
