"""Refusals, findings and shape of a calibration."""

import math
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from columns.physics import FloatReading, LiquidSpan, calibrate, errors
from tests.columns.physics.sets import NINE, calibrated, reading, readings


def exchanged(one, other, rows=NINE):
    """The set with two lines' heights exchanged."""
    rows = [list(row) for row in rows]
    rows[one][2], rows[other][2] = rows[other][2], rows[one][2]
    return rows


def refusal(rows, error, **options):
    with pytest.raises(error) as caught:
        calibrated(rows, **options)
    assert isinstance(caught.value, ValueError)
    return caught.value


@pytest.mark.parametrize(("one", "other"), [(0, 1), (3, 4), (2, 6), (0, 8)])
def test_two_exchanged_lines_are_named(one, other):
    found = refusal(exchanged(one, other), errors.FloatOrderReversed)
    assert found.code == "float_order_reversed"
    assert found.cause == "lines_swapped"
    assert set(found.floats) == {NINE[one][0], NINE[other][0]}
    assert "two lines swapped?" in found.message


def test_a_wholly_reversed_set_asks_for_the_origin():
    found = refusal(NINE, errors.FloatOrderReversed, origin="top")
    assert found.cause == "scale_origin"
    assert "scale origin?" in found.message


def test_two_reversed_floats_may_be_either():
    message = refusal(exchanged(0, 1)[:2], errors.FloatOrderReversed).message
    assert "two lines swapped?" in message
    assert "scale origin?" in message


def test_a_set_in_disorder_names_the_floats_without_guessing():
    found = refusal(exchanged(0, 3, exchanged(5, 6, NINE)), errors.FloatOrderReversed)
    assert found.cause == "unknown"
    assert found.floats


def test_equal_heights_are_refused_with_both_names():
    rows = [*NINE[:8], ("F-109", "0.9451", "190.50")]
    found = refusal(rows, errors.FloatHeightsEqual)
    assert set(found.floats) == {"F-108", "F-109"}


def test_equal_certified_densities_are_refused():
    rows = [*NINE[:8], ("F-109", "0.93990", "127.5")]
    assert refusal(rows, errors.FloatDensitiesEqual).code == "float_densities_equal"


@pytest.mark.parametrize(
    ("rows", "error", "code"),
    [
        ((), errors.TooFewFloats, "too_few_floats"),
        (NINE[:1], errors.TooFewFloats, "too_few_floats"),
        ((*NINE, NINE[3]), errors.DuplicateFloat, "duplicate_float"),
        ((*NINE, ("X", "950", "600")), errors.DensityImplausible, "density_implausible"),
        ((*NINE, ("X", "0.095", "600")), errors.DensityImplausible, "density_implausible"),
        ((*NINE, ("X", "NaN", "600")), errors.NotANumber, "not_a_number"),
        ((*NINE, ("X", "0.94", "Infinity")), errors.NotANumber, "not_a_number"),
        ((*NINE, ("X", "0.94", "1e999")), errors.NotANumber, "not_a_number"),
        ((*NINE, ("X", "0.94", "1e-999999999")), errors.NotANumber, "not_a_number"),
        ((*NINE, ("X", "sNaN", "600")), errors.NotANumber, "not_a_number"),
    ],
)
def test_sets_that_cannot_be_are_refused(rows, error, code):
    assert refusal(rows, error).code == code


def test_more_floats_than_a_column_holds_are_refused():
    rows = [(f"F{place}", f"{0.99 - place / 1000:.4f}", str(place * 10)) for place in range(61)]
    assert refusal(rows, errors.TooManyFloats).code == "too_many_floats"
    assert len(calibrated(rows[:60]).floats) == 60


def test_floats_that_nobody_can_tell_apart_count_as_equal():
    near = [*NINE[:8], ("F-109", "0.9451", "190.4999999")]
    refusal(near, errors.FloatHeightsEqual)
    near = [*NINE[:8], ("F-109", "0.93990001", "127.5")]
    refusal(near, errors.FloatDensitiesEqual)


@pytest.mark.parametrize("height", ["1e10", "-1e200"])
def test_heights_beyond_any_scale_are_refused(height):
    assert refusal([*NINE, ("X", "0.99", height)], errors.HeightImplausible)


def test_kilograms_per_cubic_metre_are_asked_about():
    assert "kg/m³?" in refusal((*NINE, ("X", "950", "600")), errors.PhysicsError).message


@pytest.mark.parametrize("u", [-0.0001, float("nan"), float("inf"), True, 1e200])
def test_uncertainties_must_be_finite_not_negative_and_not_absurd(u):
    with pytest.raises(errors.PhysicsError):
        calibrate(readings(u=u), height_standard_uncertainty_mm=0.4)
    with pytest.raises(errors.PhysicsError):
        calibrate(readings(), height_standard_uncertainty_mm=u)


def test_a_common_part_above_the_whole_is_refused():
    with pytest.raises(errors.UncertaintyNotValid, match="common part"):
        calibrated(extra={"common_standard_uncertainty_g_cm3": 0.0002})


def test_an_unknown_origin_and_a_minimum_of_one_are_refused():
    assert refusal(NINE, errors.OriginUnknown, origin="left").code == "origin_unknown"
    found = refusal(NINE, errors.MinimumFloatsNotValid, minimum_floats=1)
    assert found.code == "minimum_floats_not_valid"


def test_floats_outside_the_liquid_are_refused():
    liquid = LiquidSpan(bottom_mm=Decimal("0"), top_mm=Decimal("600"))
    found = refusal(NINE, errors.HeightOutsideLiquid, liquid=liquid)
    assert found.floats == ("F-101",)
    upside_down = LiquidSpan(bottom_mm=Decimal("700"), top_mm=Decimal("0"))
    refusal(NINE, errors.LiquidSpanNotValid, liquid=upside_down)


def test_liquid_of_a_scale_from_the_top_runs_downward():
    turned = [(name, density, str(700 - Decimal(height))) for name, density, height in NINE]
    liquid = LiquidSpan(bottom_mm=Decimal("700"), top_mm=Decimal("20"))
    assert calibrated(turned, origin="top", liquid=liquid).curve is not None


def test_a_good_set_passes_without_findings():
    column = calibrated()
    assert column.findings == ()
    assert column.passes
    assert column.correlation < -0.9999
    assert len(column.gaps) == 8
    assert all(gap.slope_g_cm3_per_mm > 0 for gap in column.gaps)
    assert [each.id for each in column.floats] == [row[0] for row in NINE]


def codes(column):
    return [found.code for found in column.findings]


@pytest.mark.parametrize("count", [2, 3, 4])
def test_two_to_four_floats_bracket_but_give_no_curve(count):
    column = calibrated(NINE[:count])
    found = column.density_at(Decimal("600"))
    assert column.curve is None
    assert found.bracketing is not None
    assert found.curve is None
    assert codes(column) == ["too_few_floats_for_curve", "below_minimum_floats"]
    assert not column.passes
    assert column.floats[0].residual_g_cm3 is None
    assert column.covariance([Decimal("600")]).curve is None


def test_the_lab_sets_the_minimum():
    assert calibrated(NINE[:3], minimum_floats=3).passes
    strict = calibrated(NINE[:6], minimum_floats=7)
    assert codes(strict) == ["below_minimum_floats"]
    assert not strict.passes


def test_a_low_correlation_is_a_finding_and_does_not_pass():
    rows = [("A", "0.99", "0"), ("B", "0.98", "10"), ("C", "0.97", "20"), ("D", "0.80", "30")]
    column = calibrated(rows, minimum_floats=4)
    assert "correlation_low" in codes(column)
    assert not column.passes


def test_the_correlation_limit_is_inclusive_and_compared_exactly():
    """Heights -1, 0, 1, densities c - a h, the middle one off by e: r² = 2a² / (2a² + 2e²/3).

    With a = 0.00597 and e² = 3 a² (1/0.990025 - 1) there is no rational e, so the two nearest
    decimals must fall on either side.
    """
    slope = Decimal("0.00597")
    edge = slope * (3 * (1 / Decimal("0.990025") - 1)).sqrt()
    for off, passes in ((edge - Decimal("1e-20"), True), (edge + Decimal("1e-20"), False)):
        rows = [
            ("A", str(Decimal("0.9") + slope), "-1"),
            ("B", str(Decimal("0.9") + off), "0"),
            ("C", str(Decimal("0.9") - slope), "1"),
        ]
        assert calibrated(rows).correlation_passes is passes


def test_a_coarse_column_is_a_finding_and_no_refusal():
    rows = [(name, density, str(Decimal(height) / 4)) for name, density, height in NINE]
    column = calibrated(rows)
    assert "sensitivity_coarse" in codes(column)
    assert column.passes


def test_a_float_read_far_off_is_named():
    rows = [list(row) for row in NINE]
    rows[4][2] = str(Decimal(rows[4][2]) + 25)
    column = calibrated(rows)
    assert [(each.code, each.float) for each in column.findings] == [("float_misfit", "F-105")]
    misread = column.floats[4]
    assert misread.residual_mm > 5
    assert misread.residual_g_cm3 > 0


def test_residuals_in_millimetres_follow_from_those_in_density():
    for each in calibrated().floats:
        assert each.residual_mm == pytest.approx(each.residual_g_cm3 / 8.25e-5, rel=0.05)


def test_a_bent_last_interval_makes_curve_and_bracketing_disagree():
    """Ends flattened by diffusion, as in an aged column."""
    heights = [70, 100, 180, 260, 340, 420, 500, 580, 640]
    offsets = [90, 108, 180, 260, 340, 420, 500, 573, 607]
    rows = [
        (f"F{h}", f"{0.97 - 0.00009 * o:.4f}", str(h))
        for h, o in zip(heights, offsets, strict=True)
    ]
    column = calibrated(
        rows,
        height_u=0.1,
        extra={"u": 0.00002},
        liquid=LiquidSpan(bottom_mm=Decimal("20"), top_mm=Decimal("700")),
    )
    found = column.density_at(Decimal("612"))
    assert [each.code for each in found.findings] == ["curve_disagrees"]


def test_a_specimen_may_have_its_own_reading_uncertainty():
    column = calibrated()
    usual = column.density_at(Decimal("401"))
    careful = column.density_at(Decimal("401"), height_standard_uncertainty_mm=0.0)
    assert careful.bracketing.from_specimen_height_g_cm3 == 0.0
    assert careful.curve.standard_uncertainty_g_cm3 < usual.curve.standard_uncertainty_g_cm3


def test_covariance_outside_the_floats_is_refused():
    with pytest.raises(errors.HeightOutsideLiquid):
        calibrated().covariance([Decimal("650")])


def test_the_profile_runs_from_end_float_to_end_float():
    for column in (calibrated(), calibrated(NINE[:3])):
        points = column.profile(17)
        assert len(points) == 17
        assert points[0].height_mm == float(column.ladder[0].reading.height_mm)
        densities = [point.density_g_cm3 for point in points]
        assert densities == sorted(densities, reverse=True)


def test_floats_given_as_binary_numbers_stand_for_their_shortest_text():
    floats = [
        FloatReading(
            id=name,
            density_g_cm3=float(density),
            standard_uncertainty_g_cm3=0.0001,
            height_mm=float(height),
        )
        for name, density, height in NINE
    ]
    column = calibrate(floats, height_standard_uncertainty_mm=0.4)
    exact = calibrated().density_at(Decimal("401.3")).bracketing.density_exact
    assert column.density_at(401.3).bracketing.density_exact == exact


def test_text_is_no_number():
    with pytest.raises(errors.NotANumber):
        calibrate(
            [reading(*NINE[0]), FloatReading(**{**vars(reading(*NINE[1])), "height_mm": "550"})],
            height_standard_uncertainty_mm=0.4,
        )


heights = st.decimals(min_value=-2000, max_value=2000, places=3) | st.decimals()
densities = st.decimals(min_value="0.8", max_value="1.5", places=5) | st.decimals()
uncertainties = st.floats(min_value=0, max_value=0.01) | st.floats()


@given(
    st.lists(st.tuples(densities, heights, uncertainties), max_size=12),
    uncertainties,
    st.sampled_from(["bottom", "top"]),
)
def test_any_input_is_refused_or_gives_finite_figures(rows, height_u, origin):
    floats = [
        FloatReading(
            id=str(place), density_g_cm3=density, standard_uncertainty_g_cm3=u, height_mm=height
        )
        for place, (density, height, u) in enumerate(rows)
    ]
    try:
        column = calibrate(floats, height_standard_uncertainty_mm=height_u, origin=origin)
    except errors.PhysicsError:
        return
    assert -1 <= column.correlation <= 1
    assert math.isfinite(column.sensitivity_g_cm3_per_mm)


@given(
    st.lists(
        st.tuples(
            st.integers(min_value=1, max_value=20_000),
            st.integers(min_value=1, max_value=9_000),
            st.floats(min_value=0, max_value=1e-3),
        ),
        min_size=5,
        max_size=12,
    ),
    st.floats(min_value=0, max_value=20),
    st.floats(min_value=0, max_value=1),
)
@settings(max_examples=60, deadline=None)
def test_any_ordered_set_gives_a_finite_curve_inside_its_interval(steps, height_u, share):
    """Floats in order, at any distances from a micrometre to twenty metres."""
    density, height, floats = Decimal("2.9"), Decimal(0), []
    for place, (up, lighter, u) in enumerate(steps):
        height += Decimal(up) / 1000
        density -= Decimal(lighter) / 100_000
        floats.append(
            FloatReading(
                id=str(place), density_g_cm3=density, standard_uncertainty_g_cm3=u, height_mm=height
            )
        )
    column = calibrate(floats, height_standard_uncertainty_mm=height_u)
    low, high = (float(floats[place].height_mm) for place in (0, -1))
    found = column.density_at(Decimal(repr(min(high, max(low, low + share * (high - low))))))
    figures = (*found.curve.interval_95, found.curve.standard_uncertainty_g_cm3)
    assert all(map(math.isfinite, figures))
    assert found.curve.interval_95[0] <= found.curve.density_g_cm3 <= found.curve.interval_95[1]
    assert all(math.isfinite(each.studentised_residual) for each in column.floats)
    assert all(math.isfinite(each.residual_mm) for each in column.floats)
