"""The main job by two people: from glass floats to a released density.

Imre reads the floats, drops three pieces of a new lot and reads them; Ruta, who read none of it,
releases the density. Expected figures follow from the certified densities and heights by
straight-line interpolation between the two neighbouring floats (ISO 1183-2).
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from columns.models import FloatSet
from samples.models import Determination, Lot, Reading, Specimen
from tests import factories
from tests.browser.conftest import Desk

pytestmark = pytest.mark.browser

LOT = "WR-2301"
WAIT_MIN = 11  # pellets wait ten minutes
HEIGHTS = ("455.0", "456.0", "454.5")


def test_from_sign_in_to_a_released_determination(
    desk: Callable[..., Desk], lab: Any, later: Callable[[int], None]
) -> None:
    imre = desk("imre")
    read_the_floats(imre, lab)
    drop_three_pieces(imre)
    later(WAIT_MIN)
    read_them(imre)
    assert Reading.objects.filter(outcome="at_rest").count() == 3
    assert imre.words_missing() == []
    prepare(imre)
    release(desk("ruta"))
    released = Determination.objects.get(status="released")
    # the three heights give 0.9182479, 0.9181767 and 0.9182836 g/cm³; their mean
    assert released.density_g_cm3 == Decimal("0.9182361")
    assert (str(released.prepared_by), str(released.released_by)) == ("Imre", "Ruta")


def read_the_floats(seat: Desk, fill: Any) -> None:
    """Bath at 23.00 °C, then nine floats, lightest first, with the number keys."""
    page = seat.open("/float-set/")
    page.get_by_role("link", name="Ash").click()
    page.wait_for_selector("[data-set][data-phase=typing]")
    page.keyboard.type("2300")
    page.keyboard.press("Enter")
    for _density, height in factories.NINE_FLOATS:
        page.keyboard.type(height.replace(".", ""))
        page.keyboard.press("Enter")
    page.click("[data-save]")
    page.wait_for_selector("[data-result]:not([hidden])")
    assert "passes" in page.inner_text("[data-result-title]")
    saved = FloatSet.objects.latest("read_at")
    assert (str(saved.read_by), str(saved.bath_temperature_c)) == ("Imre", "23.00")
    assert saved.calibrations.get(superseded_at__isnull=True).passes


def drop_three_pieces(seat: Desk) -> None:
    """A new lot is registered on the way, typed in small letters."""
    page = seat.open("/drop/")
    page.fill("#code", LOT.lower())
    page.keyboard.press("Enter")
    page.wait_for_selector("[data-register]:not([hidden])")
    page.select_option("#grade", label="Wren film")
    page.click("[data-register-act]")
    page.wait_for_selector("[data-pieces]:not([hidden])")
    assert "Ash" in page.inner_text("[data-column-list]")
    page.check("[data-wet]")
    page.click("[data-now]")
    page.wait_for_selector("[data-done]:not([hidden])")
    assert Lot.objects.get().code == LOT
    assert sorted(Specimen.objects.values_list("shape", flat=True)) == ["bar", "square", "triangle"]


def read_them(seat: Desk) -> None:
    page = seat.open("/")
    page.wait_for_selector("[data-next][href*='/read/'] b")
    page.click("[data-next]")
    for number, height in enumerate(HEIGHTS, start=1):
        page.wait_for_selector("[data-read][data-phase=typing]")
        page.click('[aria-label="Between F-103 and F-104"]')
        for digit in height.replace(".", ""):
            page.click(f'[data-digit="{digit}"]')
        page.click("[data-save]")
        page.wait_for_selector("[data-result]:not([hidden])")
        if number < len(HEIGHTS):
            page.wait_for_timeout(750)  # a second tap of the same press is ignored
            page.click("[data-next-piece]")


def prepare(seat: Desk) -> None:
    """From the last reading to the lot, which shows the mean at once."""
    page = seat.page
    page.click("[data-remarks] a")
    page.wait_for_selector("[data-pieces] li")
    page.click("[data-prepare] button[type=submit]")
    page.click('[data-verb="ready"] button[type=submit]')
    page.wait_for_selector(".result-ready")
    assert not page.locator('[data-verb="release"]').is_visible()  # not one's own


def release(seat: Desk) -> None:
    """The lead finds it in the queue and signs; the button names the value."""
    page = seat.open("/release/")
    page.click(f"text={LOT}")
    button = page.locator('[data-verb="release"] button[type=submit]')
    assert "0.9182" in button.inner_text()
    assert "Ruta" in button.inner_text()
    note = page.locator('[data-verb="release"] textarea')
    if note.count():
        note.fill("agrees with the run")
    button.click()
    page.wait_for_selector(".result-released")
