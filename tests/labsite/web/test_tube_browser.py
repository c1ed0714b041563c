"""The drawn column on a page under the product's policy: what it shows and what it must not."""

from __future__ import annotations

import itertools

import pytest

from tests.labsite.web.overviews import make_float, make_overview, make_piece

pytestmark = pytest.mark.browser
BODY = '<div class="card"><figure data-figure></figure></div>'
SHOW = """async ([overview, mode, width]) => {
  const { showTube } = await import("/static/labsite/js/tube.js");
  const figure = document.querySelector("[data-figure]");
  figure.style.setProperty("width", `${width}px`);
  figure.style.setProperty("height", "560px");
  showTube(figure, overview, mode);
}"""


def show(bench, overview, mode="bench", width=300):
    page = bench.open(BODY)
    page.evaluate(SHOW, [overview, mode, width])
    page.wait_for_selector("[data-figure] svg")
    return page


def missing_words(page):
    return page.evaluate(
        "import('/static/labsite/js/words.js').then((words) => words.missingWords())"
    )


def texts(page):
    return page.locator("[data-figure] svg text").all_text_contents()


@pytest.mark.parametrize("mode", ["bench", "column", "read", "set"])
@pytest.mark.parametrize("width", [52, 150, 320, 900])
def test_every_mode_draws_at_every_width_without_inline_style(bench, mode, width):
    page = show(bench, make_overview(), mode, width)
    assert page.locator("[data-figure] svg [style]").count() == 0
    assert page.locator("[data-figure] circle.tube-float").count() == 9
    assert missing_words(page) == []


def test_drawing_says_itself_in_a_sentence_and_a_list(bench):
    page = show(bench, make_overview())
    drawing = page.get_by_role("img")
    assert "Damson, Open, calibrated by 9 floats" in drawing.get_attribute("aria-label")
    facts = page.locator("[data-figure] li").all_text_contents()
    assert "Float F-401 at 658.5 mm" in facts
    assert "square of lot PL-0711 at 397.0 mm, 0.94567 g/cm³, dropped today" in facts
    assert "disc of lot AV-1033, ready to read" in facts


def test_piece_without_a_reading_stays_above_the_mouth(bench):
    page = show(bench, make_overview())
    surface = page.locator("[data-figure] .tube-surface").bounding_box()
    tray = page.locator('use[href="#shape-disc"]').bounding_box()
    assert tray["y"] + tray["height"] < surface["y"]


def test_floats_stand_at_their_heights_on_the_scale(bench):
    page = show(bench, make_overview(), "column", 900)
    places = page.eval_on_selector_all(
        "[data-figure] circle.tube-float",
        "nodes => nodes.map((node) => Number(node.getAttribute('cy')))",
    )
    first, last = places[0], places[-1]
    share = (places[4] - first) / (last - first)
    assert share == pytest.approx((658.5 - 349.5) / (658.5 - 40.0), abs=0.001)


def test_scale_from_the_top_is_numbered_downward(bench):
    page = show(bench, make_overview(origin="top"))
    numbers = page.locator("text.tube-number").all()
    places = {number.text_content(): number.bounding_box()["y"] for number in numbers}
    assert places["0"] < places["700"]


def test_without_a_calibration_the_liquid_claims_no_shade(bench):
    closed = make_overview(calibration=None, state="closed", state_word="Closed")
    page = show(bench, closed)
    assert page.locator("[data-figure] .tube-flat").count() == 1
    assert page.locator("[data-figure] .tube-lid").count() == 1
    assert page.locator("[data-figure] .tube-faint").count() == 1
    assert page.locator("[data-figure] .strip-solid").count() == 0
    assert page.locator("linearGradient[id^=liquid]").count() == 0


def test_empty_column_has_no_liquid(bench):
    empty = make_overview(
        calibration=None, state="empty", state_word="Empty", floats=[], occupants=[], tray=[]
    )
    page = show(bench, empty)
    assert page.locator("[data-figure] .tube-surface, [data-figure] .tube-flat").count() == 0


def test_blind_drawing_shows_no_density_no_lot_and_no_neighbour_value(bench):
    page = show(bench, make_overview(), "read", 300)
    everything = page.locator("[data-figure]").inner_html()
    assert "0.9" not in "".join(texts(page))
    assert "PL-0711" not in everything
    assert "0711" not in everything
    assert "g/cm" not in everything
    assert page.locator("[data-figure] .strip-solid").count() == 0


def test_gaps_are_buttons_between_neighbouring_floats(bench):
    page = show(bench, make_overview(), "read", 300)
    page.evaluate(
        "() => { window.chosen = []; for (const type of ['gap-chosen', 'outcome-chosen'])"
        " document.addEventListener(type, (event) => window.chosen.push(event.detail)); }"
    )
    assert page.locator("button[data-upper]").count() == 8
    gap = page.get_by_role("button", name="Between F-403 and F-404")
    gap.click()
    page.get_by_role("button", name="Off the top").click()
    assert gap.get_attribute("aria-pressed") == "true"
    assert page.evaluate("window.chosen") == [{"upper": "f2", "lower": "f3"}, "off_top"]


def test_gap_is_pressed_up_to_the_float_lines(bench):
    page = show(bench, make_overview(), "read", 300)
    gap = page.get_by_role("button", name="Between F-403 and F-404").bounding_box()
    rings = page.locator("[data-figure] circle.tube-float")
    upper, lower = (rings.nth(index).bounding_box() for index in (2, 3))
    assert gap["y"] == pytest.approx(upper["y"] + upper["height"] / 2, abs=1.5)
    assert gap["y"] + gap["height"] == pytest.approx(lower["y"] + lower["height"] / 2, abs=1.5)


def test_set_draws_typed_heights_only(bench):
    floats = [make_float(index) for index in range(9)]
    for later in floats[3:]:
        later["height_mm"] = later["above_bottom_mm"] = None
    page = show(bench, make_overview(floats=floats), "set", 220)
    assert page.locator("[data-figure] circle.tube-float").count() == 3
    assert "0.9" not in "".join(texts(page))


def test_masked_sibling_is_named_but_not_placed(bench):
    overview = make_overview(occupants=[make_piece("WR-2211", "square", None)])
    page = show(bench, overview)
    assert page.locator('use[href="#shape-square"]').count() == 0
    facts = page.locator("[data-figure] li").all_text_contents()
    assert "square of lot WR-2211, read; shown when you have read yours" in facts


def test_crowd_gets_a_lens_that_names_each_piece(bench):
    crowd = [make_piece("WR-2208", "square", 470.0), make_piece("WR-2211", "square", 466.5)]
    page = show(bench, make_overview(occupants=crowd), "column", 900)
    names = page.locator("g.lens .tube-label").all_text_contents()
    assert [name.split(" square")[0] for name in names] == ["2208", "2211"]


def test_floats_and_labels_have_no_overlap_in_a_crowded_column(bench):
    crowd = [
        make_piece(f"WR-22{index:02d}", shape, 300.0 + index)
        for index, shape in enumerate(["square", "disc", "bar", "tee", "notched", "triangle"])
    ]
    page = show(bench, make_overview(occupants=crowd), "bench", 160)
    boxes = [label.bounding_box() for label in page.locator("text.tube-label").all()]
    boxes.sort(key=lambda box: box["y"])
    assert len(boxes) == 6
    for upper, lower in itertools.pairwise(boxes):
        assert upper["y"] + upper["height"] <= lower["y"] + 1


def test_hostile_names_stay_text(bench):
    overview = make_overview(
        name='<img src=x onerror="alert(1)">',
        occupants=[make_piece("<b>2211</b>", "square", 300.0)],
    )
    page = show(bench, overview)
    assert page.locator("[data-figure] img, [data-figure] b").count() == 0
