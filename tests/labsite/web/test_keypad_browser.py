"""The number keys: digits shift in from the right, and no habit gives a number ten times off."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser
BODY = """{% include "labsite/_keypad.html" with division=".5" %}
<p class="typed"><output data-typed></output></p>
<div data-steps><button type="button" data-step="1">+</button>
<button type="button" data-step="-1">−</button></div>""".replace('".5"', '"0.5"')
START = """async () => {
  const { Keypad } = await import("/static/labsite/js/keypad.js");
  const root = document.querySelector("[data-keypad]");
  window.entered = [];
  root.addEventListener("keypad-enter", (event) => window.entered.push(event.detail.value));
  window.pad = new Keypad(root, { display: document.querySelector("[data-typed]"),
    steps: document.querySelector("[data-steps]") });
}"""


@pytest.fixture
def page(bench):
    page = bench.open(BODY)
    page.evaluate(START)
    return page


def tap(page, keys):
    for key in keys:
        page.locator(f'[data-digit="{key}"]').click()


def value(page):
    return page.evaluate("window.pad.value")


def test_nothing_is_prefilled(page):
    assert value(page) is None
    assert page.locator("[data-typed]").text_content() == ""
    assert page.locator("[data-typed]").get_attribute("aria-label") == "nothing typed yet"


@pytest.mark.parametrize(
    ("keys", "expected"),
    [("4665", "466.5"), ("4", "0.4"), ("46", "4.6"), ("0", "0.0"), ("05", "0.5"), ("0465", "46.5")],
)
def test_tapped_digits_shift_in_from_the_right(page, keys, expected):
    tap(page, keys)
    assert value(page) == expected


@pytest.mark.parametrize(
    ("keys", "expected"),
    [("4665", "466.5"), ("466.5", "466.5"), ("466,5", "466.5"), ("466.", "466.0"), (".", None)],
)
def test_typed_point_fixes_the_whole_part(page, keys, expected):
    page.keyboard.type(keys)
    assert value(page) == expected


def test_places_still_to_come_are_shown(page):
    page.keyboard.type("466.")
    assert page.locator("[data-typed]").text_content() == "466._"


def test_delete_takes_one_digit_and_clear_all(page):
    tap(page, "4665")
    page.locator("[data-delete]").click()
    assert value(page) == "46.6"
    page.keyboard.press("Backspace")
    assert value(page) == "4.6"
    page.locator("[data-clear]").click()
    assert value(page) is None


def test_steps_move_by_one_division_and_never_below_zero(page):
    page.locator('[data-step="1"]').click()
    assert value(page) is None
    tap(page, "4665")
    page.locator('[data-step="1"]').click()
    assert value(page) == "467.0"
    page.keyboard.press("-")
    page.keyboard.press("-")
    assert value(page) == "466.0"
    page.locator("[data-clear]").click()
    tap(page, "0")
    page.locator('[data-step="-1"]').click()
    assert value(page) == "0.0"


def test_no_more_digits_than_a_scale_can_have(page):
    tap(page, "46651")
    assert value(page) == "466.5"


def test_enter_saves_but_not_on_a_button(page):
    page.keyboard.type("4665")
    page.keyboard.press("Enter")
    assert page.evaluate("window.entered") == ["466.5"]
    page.locator("[data-clear]").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("window.entered") == ["466.5"]
    assert value(page) is None


@pytest.mark.parametrize(
    ("number", "division", "expected"),
    [("466.5", "0.5", True), ("466.3", "0.5", False), ("466", "1", True), ("466.5", "1", False)],
)
def test_marks_of_the_scale_are_known(bench, page, number, division, expected):
    assert bench.call(page, "keypad.js", "onDivision", number, division) is expected


def test_keys_are_large_enough_for_a_gloved_thumb(page):
    for key in page.locator(".keypad-key").all():
        box = key.bounding_box()
        assert box["height"] >= 104
        assert box["width"] >= 104
