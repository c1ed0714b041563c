"""The bench, one column and Drop in Chromium: they refresh themselves and refuse with reasons."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from columns.services.holds import place_hold
from labsite.accounts.models import User
from samples.models import Grade, Lot, Specimen
from tests import factories
from tests.browser.conftest import Desk

pytestmark = pytest.mark.browser


def test_the_bench_shows_a_drop_and_a_hold_without_taking_the_focus(
    desk: Callable[..., Desk], lab: Any
) -> None:
    page = desk("imre").open("/")
    link = page.get_by_role("link", name="Ash", exact=True)
    link.focus()
    expect(page.locator("[data-headline]")).to_have_text("1 of 1 column can be used")
    imre = User.objects.get(username="imre")
    lot = factories.make_lot(actor=imre, grade=lab_grade())
    factories.make_specimens(actor=imre, lot=lot, fill=lab)
    expect(page.locator("[data-ready-count]")).to_have_text("3")
    assert page.evaluate("document.activeElement.textContent") == "Ash"
    place_hold(actor=imre, fill=lab, reason="cracked at the foot", lifts_when="a new column")
    expect(page.locator(".column-state")).to_have_text("On hold")
    assert "cracked at the foot" in page.inner_text("[data-flags]")
    assert page.evaluate("document.activeElement.textContent") == "Ash"


def lab_grade() -> Any:
    return Grade.objects.get()


def test_a_lost_network_is_told_with_the_age_of_what_is_shown(
    desk: Callable[..., Desk], lab: Any
) -> None:
    page = desk("imre").open("/")
    page.wait_for_selector(".column-state .state")
    page.context.set_offline(True)
    page.wait_for_selector("[data-connection]:not([hidden])", timeout=15000)
    assert "No network since" in page.inner_text("[data-connection]")
    page.context.set_offline(False)
    page.wait_for_selector("[data-connection]", state="hidden", timeout=40000)


def test_a_column_is_drawn_with_its_floats_and_the_same_facts_as_tables(
    desk: Callable[..., Desk], lab: Any, pieces: list[Any]
) -> None:
    factories.make_reading(
        actor=User.objects.get(username="imre"), specimen=pieces[0], height_mm="455.0"
    )
    seat = desk("ingrid")
    page = seat.open(f"/columns/{lab.column_id}/")
    page.wait_for_selector("[data-set-rows] tr")
    assert "Measures 0.9051 to 0.9449 g/cm³" in page.inner_text("[data-measures]")
    assert page.locator("[data-tube] svg .tube-float").count() == 9
    assert page.locator("[data-set-rows] tr").count() == 9
    page.wait_for_selector("[data-history] path.history-line", state="attached")
    assert page.locator("[data-history] path.history-line").count() == 9
    assert page.locator("[data-piece-rows] tr").count() == 3
    assert "0.91825" in page.inner_text("[data-piece-rows]")
    assert seat.words_missing() == []


def test_what_one_may_not_see_yet_is_masked_on_the_column(
    desk: Callable[..., Desk], lab: Any, pieces: list[Any]
) -> None:
    factories.make_reading(
        actor=User.objects.get(username="salma"), specimen=pieces[0], height_mm="455.0"
    )
    page = desk("imre").open(f"/columns/{lab.column_id}/")
    page.wait_for_selector("[data-piece-rows] tr")
    assert "455" not in page.inner_text("[data-piece-rows]")
    assert "0.91825" not in page.content()


def test_a_lot_code_that_looks_like_a_date_is_asked_about(
    desk: Callable[..., Desk], lab: Any
) -> None:
    page = desk("imre").open("/drop/")
    page.fill("#code", "3-4")
    page.keyboard.press("Enter")
    page.wait_for_selector("[data-register]:not([hidden])")
    page.select_option("#grade", label="Wren film")
    page.click("[data-register-act]")
    page.wait_for_selector("[data-confirm]")
    assert "looks like a date" in page.inner_text("[data-lot-form]")
    assert Lot.objects.count() == 0
    page.click("[data-confirm]")
    page.wait_for_selector("[data-pieces]:not([hidden])")
    assert Lot.objects.get().code == "3-4"


def test_dropping_waits_for_the_look_for_bubbles_and_makes_one_record(
    desk: Callable[..., Desk], lab: Any
) -> None:
    imre = User.objects.get(username="imre")
    lot = factories.make_lot(actor=imre, grade=lab_grade())
    page = desk("imre").open(f"/drop/?lot={lot.pk}")
    page.wait_for_selector("[data-pieces]:not([hidden])")
    page.locator("[data-now]").click(force=True)
    assert "look for bubbles" in page.inner_text("[data-notice]")
    page.click("[data-more]")
    page.check("[data-wet]")
    page.locator("[data-now]").dblclick()
    page.wait_for_selector("[data-done]:not([hidden])")
    page.wait_for_timeout(500)
    assert Specimen.objects.count() == 4
    assert "Ready to read at" in page.inner_text("[data-done]")


def test_a_closed_column_takes_no_piece_from_a_technician_and_one_with_a_reason_from_a_lead(
    desk: Callable[..., Desk], lab: Any
) -> None:
    imre = User.objects.get(username="imre")
    lot = factories.make_lot(actor=imre, grade=lab_grade())
    place_hold(actor=imre, fill=lab, reason="cracked at the foot", lifts_when="a new column")
    for name, allowed in (("imre", False), ("ruta", True)):
        page = desk(name).open(f"/drop/?lot={lot.pk}")
        page.wait_for_selector("[data-columns]:not([hidden])")
        page.locator('[name="column"]').check(force=True)
        page.check("[data-wet]")
        page.locator("[data-now]").click(force=True)
        page.wait_for_selector("[data-notice] .banner")
        assert Specimen.objects.count() == 0
        assert page.locator("[data-override]").is_visible() is allowed
    page.fill("#override", "last piece of the night, glass looked at")
    page.click("[data-now]")
    page.wait_for_selector("[data-done]:not([hidden])")
    assert set(Specimen.objects.values_list("override_reason", flat=True)) == {
        "last piece of the night, glass looked at"
    }
