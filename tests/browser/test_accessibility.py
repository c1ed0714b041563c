"""axe-core over the technician's pages, at three sizes, light and dark; none scrolls sideways."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from columns.models import FloatSet
from labsite.accounts.models import User
from tests import factories
from tests.browser.conftest import DESKTOP, PHONE, TABLET, Desk

pytestmark = pytest.mark.browser


def addresses(fill: Any, pieces: list[Any]) -> dict[str, str]:
    """Address and what shows that the page is filled."""
    newest = FloatSet.objects.latest("read_at")
    return {
        "/": ".column-state .state",
        "/wall/": ".column-state .state",
        f"/columns/{fill.column_id}/": "[data-set-rows] tr",
        f"/read/{pieces[0].pk}/": "[data-read][data-phase=typing]",
        f"/drop/?lot={pieces[0].lot_id}": "[data-pieces]:not([hidden])",
        "/drop/": "#code",
        "/float-set/": ".set-column",
        f"/float-set/{fill.column_id}/": "[data-set][data-phase=typing]",
        f"/float-set/amend/{newest.pk}/": "[data-touched] p",
    }


def problems(page: Any, address: str) -> list[str]:
    found = [
        f"{address}: {each['id']}: {[node['html'][:120] for node in each['nodes'][:3]]}"
        for each in Axe().run(page).response["violations"]
    ]
    if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
        found.append(f"{address} scrolls sideways")
    return found


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [TABLET, PHONE, DESKTOP], ids=["tablet", "phone", "desktop"])
def test_no_page_has_a_violation_or_scrolls_sideways(
    desk: Callable[..., Desk], lab: Any, pieces: list[Any], size: tuple[int, int], scheme: str
) -> None:
    factories.make_reading(
        actor=User.objects.get(username="imre"), specimen=pieces[1], height_mm="455.0"
    )
    seat = desk("imre", size=size, color_scheme=scheme)
    found: list[str] = []
    for address, filled in addresses(lab, pieces).items():
        page = seat.open(address)
        page.wait_for_selector(filled)
        found += problems(page, address)
        found += [f"{address}: no word for {key}" for key in seat.words_missing()]
    found += after_saving(seat, pieces)
    assert found == []


def after_saving(seat: Desk, pieces: list[Any]) -> list[str]:
    page = seat.open(f"/read/{pieces[0].pk}/")
    page.wait_for_selector("[data-read][data-phase=typing]")
    page.click('[data-outcome-key="bubble"]')
    page.click("[data-save]")
    page.wait_for_selector("[data-result]:not([hidden])")
    return problems(page, "a saved reading")


def test_on_a_screen_of_320_px_every_page_reflows(
    desk: Callable[..., Desk], lab: Any, pieces: list[Any]
) -> None:
    """WCAG 2.2, 1.4.10: 320 px wide without scrolling in two directions."""
    seat = desk("imre", size=(320, 720))
    for address, filled in addresses(lab, pieces).items():
        if address == "/wall/":
            continue  # a screen on the wall
        page = seat.open(address)
        page.wait_for_selector(filled)
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= 320, address
