"""Entering and amending a float set: order, missing floats, draft, one record."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from columns.models import FloatSet
from labsite.accounts.models import User
from samples.models import Determination, Grade
from tests import factories
from tests.browser.conftest import Desk

pytestmark = pytest.mark.browser

HEIGHTS = [height for _density, height in factories.NINE_FLOATS]


def open_sheet(desk: Callable[..., Desk], fill: Any) -> Any:
    page = desk("imre").open(f"/float-set/{fill.column_id}/")
    page.wait_for_selector("[data-set][data-phase=typing]")
    return page


def type_rows(page: Any, heights: list[str], temperature: str = "2300") -> None:
    for typed in (temperature, *(height.replace(".", "") for height in heights)):
        page.keyboard.type(typed)
        page.keyboard.press("Enter")


def rows(page: Any) -> list[str]:
    return page.locator(".set-row .set-height").all_inner_texts()


def sets_saved() -> int:
    return FloatSet.objects.count()


def test_save_wakes_with_the_last_float_and_misfits_show_only_then(
    desk: Callable[..., Desk], lab: Any
) -> None:
    before = sets_saved()
    page = open_sheet(desk, lab)
    type_rows(page, HEIGHTS[:8])
    assert page.get_attribute("[data-save]", "aria-disabled") == "true"
    assert not page.locator("[data-result]").is_visible()
    assert "640" not in page.inner_text("[data-tube] ul.visually-hidden").replace("640.0", "")
    page.keyboard.type("800")
    assert page.get_attribute("[data-save]", "aria-disabled") == "false"
    page.locator("[data-save]").dblclick()
    page.wait_for_selector("[data-result]:not([hidden])")
    assert page.locator("[data-misfits] tr").count() == 9
    assert page.locator("[data-gaps] tr").count() == 8
    assert "0.0000711" in page.inner_text("[data-figures]")  # (0.9449 - 0.9051) g/cm³ / 560 mm
    assert sets_saved() == before + 1


def test_two_swapped_lines_are_refused_and_what_was_typed_stays(
    desk: Callable[..., Desk], lab: Any
) -> None:
    before = sets_saved()
    page = open_sheet(desk, lab)
    swapped = [*HEIGHTS[:2], HEIGHTS[3], HEIGHTS[2], *HEIGHTS[4:]]
    type_rows(page, swapped)
    page.click("[data-save]")
    page.wait_for_selector("[data-notice] .banner-stop")
    assert "two lines swapped?" in page.inner_text("[data-notice]")
    assert rows(page) == ["23.00", *swapped]
    assert sets_saved() == before


def test_a_float_that_is_not_there_needs_a_reason(desk: Callable[..., Desk], lab: Any) -> None:
    page = open_sheet(desk, lab)
    type_rows(page, HEIGHTS[:4])
    page.click("[data-not-there]")
    page.fill("#why", "stuck to the wall")
    page.keyboard.press("Enter")
    for height in HEIGHTS[5:]:
        page.keyboard.type(height.replace(".", ""))
        page.keyboard.press("Enter")
    page.click("[data-save]")
    page.wait_for_selector("[data-result]:not([hidden])")
    saved = FloatSet.objects.latest("read_at")
    assert saved.heights.get(height_mm__isnull=True).missing_reason == "stuck to the wall"
    assert saved.heights.get(height_mm__isnull=True).calibration_float.label == "F-105"


def test_a_number_off_the_scale_is_told_at_once(desk: Callable[..., Desk], lab: Any) -> None:
    page = open_sheet(desk, lab)
    type_rows(page, ["712.0"])
    assert "712.0 mm is not on the scale" in page.inner_text("[data-rows]")


def test_a_set_put_aside_comes_back_to_its_person(desk: Callable[..., Desk], lab: Any) -> None:
    page = open_sheet(desk, lab)
    type_rows(page, HEIGHTS[:3])
    page.goto("/")
    page.goto(f"/float-set/{lab.column_id}/")
    page.wait_for_selector("[data-set][data-phase=typing]")
    assert rows(page)[:4] == ["23.00", *HEIGHTS[:3]]
    assert "are back" in page.inner_text("[data-notice]")


def test_amending_tells_first_what_rests_on_the_set(desk: Callable[..., Desk], lab: Any) -> None:
    imre = User.objects.get(username="imre")
    lot = factories.make_lot(actor=imre, grade=Grade.objects.get())
    factories.make_read_lot(actor=imre, lot=lot, fill=lab)
    old = factories.make_determination(actor=imre, lot=lot)
    first = FloatSet.objects.filter(replaced_at__isnull=True).latest("read_at")
    page = desk("ingrid").open(f"/float-set/amend/{first.pk}/")
    page.wait_for_selector("[data-touched] p")
    assert f"Lot {lot.code}, ready" in page.inner_text("[data-touched]")
    page.locator('.set-row:has-text("F-104")').click()
    page.keyboard.type("4300")
    page.fill("#reason", "read one line too low")
    page.click("[data-save]")
    page.wait_for_selector("[data-result]:not([hidden])")
    first.refresh_from_db()
    assert first.replaced_at is not None
    newer = FloatSet.objects.get(amends=first)
    assert str(newer.heights.get(calibration_float__label="F-104").height_mm) == "430.00"
    assert str(newer.read_by) == str(first.read_by)
    assert Determination.objects.get(amends=old).status in ("draft", "ready")
