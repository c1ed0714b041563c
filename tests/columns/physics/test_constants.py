"""Limits and facts of the method against what was read in the standards."""

from decimal import Decimal

import pytest

from columns.physics import constants, errors, wait_before_reading, water_density
from tests.columns.physics.reference import reference

D1505 = {fact["key"]: fact for fact in reference("04a")["astm_d1505"]}
ISO = {fact["key"]: fact for fact in reference("04a")["iso_1183_2"]}


@pytest.mark.parametrize(
    ("constant", "key"),
    [
        ("BATH_TEMPERATURE_C", "bath_temperature_C"),  # ASTM D1505-18, 5.2 and 7.2
        ("BATH_TOLERANCE_C", "bath_temperature_tolerance_C"),  # ASTM D1505-18, 5.2 and 7.2
        ("MINIMUM_CORRELATION", "column_acceptance_min_correlation"),  # 10.1.1
        ("COARSEST_SENSITIVITY_G_CM3_PER_MM", "sensitivity_for_that_accuracy_max"),  # Note 3
        ("SPECIMENS_PER_DETERMINATION", "n_specimens"),  # 9.1
        ("PELLET_WAIT_MINUTES", "equilibrium_min_pellets"),  # 9.1
        ("THIN_FILM_WAIT_MINUTES", "equilibrium_min_film"),  # 9.1
        ("BASKET_RATE_MM_PER_MIN", "sweep_rate_mm_per_min"),  # 9.3
    ],
)
def test_the_constant_is_the_standards(constant, key):
    fact = D1505[key]
    assert fact["provenance"] == "read"
    assert getattr(constants, constant) == Decimal(str(fact["value"]))


def test_the_usual_minimum_of_five_floats():
    """Common practice, no source: the annex of the standard was not seen."""
    assert constants.MINIMUM_FLOATS == D1505["min_floats"]["value"] == 5


def test_nine_floats_are_usual():
    """Common practice, no source; ISO 10119's column recommends eight."""
    assert constants.USUAL_FLOATS == 9
    assert "eight floats" in ISO["ISO_10119_sister_column"]["value"]


def test_a_polyolefin_piece_sinks_in_alcohol_and_floats_on_water():
    """Common practice, no source."""
    for polyolefin in (0.855, 0.905, 0.918, 0.97):
        assert float(constants.ALCOHOL_G_CM3) < polyolefin < water_density(23.0)


def test_every_liquid_pair_lies_within_the_plausible_densities():
    """JIS K 7112:1999, Annex 1."""
    for pair in reference("02")["pairs"]:
        assert Decimal(str(pair["min"])) > constants.LIGHTEST_FLOAT_G_CM3
        assert Decimal(str(pair["max"])) < constants.DENSEST_FLOAT_G_CM3


def test_the_alcohol_is_the_light_end_of_its_pair():
    """JIS K 7112:1999, Annex 1: 2-propanol and water, 0.79 to 1.00."""
    pair = next(
        each
        for each in reference("02")["pairs"]
        if (each["light"], each["heavy"]) == ("2-propanol", "water")
    )
    assert Decimal(str(pair["min"])) == constants.ALCOHOL_G_CM3


def test_waits_of_the_standard():
    """ASTM D1505-18, 9.1: pellets 10 min, films of 1 to 2 mil 1.5 h and a second look."""
    pellet = wait_before_reading("pellet")
    film = wait_before_reading("film", Decimal("0.025"))
    assert (pellet.minutes, pellet.second_reading) == (10, False)
    assert (film.minutes, film.second_reading) == (90, True)
    assert wait_before_reading("film", Decimal("0.051")).minutes == 90


def test_thicker_film_waits_less_but_never_less_than_a_pellet():
    """Our rule between the two figures of the standard; worked in docs/algorithms/waiting.md."""
    assert wait_before_reading("film", Decimal("0.102")).minutes == 45
    assert wait_before_reading("film", Decimal("0.100")).minutes == 46
    assert wait_before_reading("film", Decimal("2")).minutes == 10
    assert wait_before_reading("film", Decimal("0.1")).source.startswith("our rule")
    waits = [wait_before_reading("film", Decimal(t) / 1000).minutes for t in range(20, 900, 7)]
    assert waits == sorted(waits, reverse=True)


@pytest.mark.parametrize("thickness", [None, 0, -1])
def test_a_film_needs_a_thickness(thickness):
    with pytest.raises(errors.ThicknessNotValid, match=r"0\.050"):
        wait_before_reading("film", thickness)


def test_an_unknown_form_is_refused():
    with pytest.raises(ValueError, match="Unknown form"):
        wait_before_reading("powder")
