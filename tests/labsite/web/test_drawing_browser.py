"""Pure parts of the drawings: labels, ramp, scale, axis. They run in Chromium, as in the app."""

from __future__ import annotations

import itertools

import pytest

from tests.labsite.web.overviews import DENSITIES, HEIGHTS, make_calibration, make_float

pytestmark = pytest.mark.browser
ROOM = {"low": 0, "high": 400, "gap": 2}


def spread(calculator, wanted, size=20, **room):
    labels = [{"at": at, "size": size, "name": name} for name, at in enumerate(wanted)]
    return calculator("tube/labels.js", "spreadLabels", labels, {**ROOM, **room})


def centres(answer):
    return [label["centre"] for label in answer["placed"]]


def test_labels_with_room_stay_at_their_own_height(calculator):
    assert centres(spread(calculator, [50, 100, 300])) == [50, 100, 300]


def test_touching_labels_become_a_block_around_their_mean(calculator):
    assert centres(spread(calculator, [100, 104, 108])) == pytest.approx([82, 104, 126])


@pytest.mark.parametrize(
    "wanted",
    [
        [10, 12, 14, 200, 201, 202, 390, 395, 399],
        [0, 0, 0, 0],
        [400, 400, 400],
        [30, 35, 62, 64, 90, 91, 92],
    ],
)
def test_labels_never_touch_keep_their_order_and_stay_inside(calculator, wanted):
    answer = spread(calculator, wanted)
    places = centres(answer)
    assert answer["fits"]
    assert [label["at"] for label in answer["placed"]] == sorted(wanted)
    assert all(b - a >= 22 - 1e-9 for a, b in itertools.pairwise(places))
    assert places[0] >= 10
    assert places[-1] <= 390


def test_more_labels_than_room_is_said(calculator):
    assert spread(calculator, [100] * 19)["fits"] is False
    assert spread(calculator, [100] * 18)["fits"] is True


def test_pieces_of_a_lot_share_a_label_while_they_lie_together(calculator):
    pieces = [
        {"lot": lot, "above_bottom_mm": at}
        for lot, at in [("A", 400), ("B", 398), ("A", 380), ("A", 100)]
    ]
    groups = calculator("tube/labels.js", "groupByLot", pieces)
    found = [[(piece["lot"], piece["above_bottom_mm"]) for piece in group] for group in groups]
    assert found == [[("A", 400), ("A", 380)], [("B", 398)], [("A", 100)]]


@pytest.mark.parametrize(
    ("pieces", "crowded"),
    [
        ([("square", 470), ("square", 464)], False),
        ([("square", 470), ("square", 465)], True),
        ([("square", 470), ("disc", 470)], False),
    ],
)
def test_crowd_is_two_like_shapes_within_five_millimetres(calculator, pieces, crowded):
    given = [{"shape": shape, "above_bottom_mm": at} for shape, at in pieces]
    stretch = calculator("tube/labels.js", "crowdedStretch", given)
    assert (stretch is not None) is crowded


def test_liquid_has_seventeen_tones_placed_by_the_calibration(calculator):
    stops = calculator("tube/ramp.js", "rampStops", make_calibration()["profile"], 700)
    assert [stop["tone"] for stop in stops] == list(range(17))
    assert stops[0]["offset"] == pytest.approx(1 - HEIGHTS[0] / 700)
    assert stops[16]["offset"] == pytest.approx(1 - HEIGHTS[-1] / 700)
    middle = (DENSITIES[0] + DENSITIES[-1]) / 2  # lies at F-405 exactly: 0.9500
    assert middle == pytest.approx(DENSITIES[4])
    assert stops[8]["offset"] == pytest.approx(1 - HEIGHTS[4] / 700)


def test_flattened_end_spreads_its_tones(calculator):
    flat_top = [
        {"above_bottom_mm": 600, "density_g_cm3": 0.900},
        {"above_bottom_mm": 400, "density_g_cm3": 0.905},
        {"above_bottom_mm": 100, "density_g_cm3": 0.940},
    ]
    stops = calculator("tube/ramp.js", "rampStops", flat_top, 700)
    assert stops[1]["offset"] - stops[0]["offset"] > 2 * (stops[16]["offset"] - stops[15]["offset"])


def test_blind_page_gets_the_same_liquid_from_shades_alone(calculator):
    profile = make_calibration()["profile"]
    span = DENSITIES[-1] - DENSITIES[0]
    shades = [
        {
            "above_bottom_mm": point["above_bottom_mm"],
            "shade": (point["density_g_cm3"] - DENSITIES[0]) / span,
        }
        for point in profile
    ]
    seen = calculator("tube/ramp.js", "rampStops", profile, 700)
    blind = calculator("tube/ramp.js", "rampStops", shades, 700)
    assert [s["offset"] for s in blind] == pytest.approx([s["offset"] for s in seen])


def test_two_swapped_heights_show_a_dark_band_above_a_light_one(calculator):
    floats = [make_float(index) for index in range(9)]
    tones = [s["tone"] for s in calculator("tube/ramp.js", "typedStops", floats, 700)]
    assert tones == sorted(tones)
    for name in ("height_mm", "above_bottom_mm"):
        floats[2][name], floats[3][name] = floats[3][name], floats[2][name]
    swapped = [s["tone"] for s in calculator("tube/ramp.js", "typedStops", floats, 700)]
    assert swapped != sorted(swapped)


def test_floats_not_typed_yet_leave_the_liquid_alone(calculator):
    floats = [make_float(index) for index in range(9)]
    for later in floats[2:]:
        later["above_bottom_mm"] = None
    stops = calculator("tube/ramp.js", "typedStops", floats, 700)
    assert len(stops) == 2


def test_no_density_tick_lies_beyond_an_end_float(calculator):
    axis = calculator("tube/ramp.js", "densityTicks", make_calibration()["profile"])
    densities = [tick["density"] for tick in axis["ticks"]]
    assert min(densities) >= DENSITIES[0] - 1e-9
    assert max(densities) <= DENSITIES[-1] + 1e-9
    assert all(40.0 <= tick["height"] <= 658.5 for tick in axis["ticks"])
    numbered = [round(tick["density"], 4) for tick in axis["ticks"] if tick["numbered"]]
    assert numbered == [0.935, 0.94, 0.945, 0.95, 0.955, 0.96, 0.965]


def test_top_scale_counts_downward(calculator):
    scale = {"origin": "top", "length": 700}
    assert calculator("tube/scale.js", "aboveBottom", 112.5, scale) == 587.5
    assert calculator("tube/scale.js", "printedAt", 587.5, scale) == 112.5


def test_glass_keeps_its_proportions(calculator):
    scale = {"bore": 60, "length": 700}
    box = {"width": 400, "height": 760, "top": 40, "foot": 20, "scale": scale}
    glass = calculator("tube/scale.js", "fitGlass", box)
    assert glass["bore"] / (glass["bottom"] - glass["top"]) == pytest.approx(60 / 700)
    narrow = calculator("tube/scale.js", "fitGlass", {**box, "width": 20})
    assert narrow["bore"] / (narrow["bottom"] - narrow["top"]) == pytest.approx(60 / 700)


def test_density_axis_spans_limits_or_data_whichever_is_wider(calculator):
    facts = {
        "pieces": [{"density": "0.9184", "low": "0.9182", "high": "0.9186"}],
        "mean": None,
        "limits": {"lower": "0.9162", "upper": "0.9202", "target": None},
    }
    span = calculator("densityaxis.js", "axisSpan", facts)
    assert span["low"] < 0.9162
    assert span["high"] > 0.9202
    facts["limits"] = None
    span = calculator("densityaxis.js", "axisSpan", facts)
    assert 0.9178 < span["low"] < 0.9182
    assert calculator("densityaxis.js", "axisSpan", {**facts, "pieces": []}) is None
