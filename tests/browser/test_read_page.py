"""Reading at the page: seven taps, blind, once, kept through a lost network and a lost session."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.clock import SYSTEM_CLOCK
from samples.models import Reading
from tests import factories
from tests.browser.conftest import PHONE, Desk

pytestmark = pytest.mark.browser

MOST_TAPS = 7
GAP_103_104 = '[aria-label="Between F-103 and F-104"]'
GAP_104_105 = '[aria-label="Between F-104 and F-105"]'


def open_first(desk: Callable[..., Desk], **options: Any) -> Desk:
    seat = desk("imre", **options)
    seat.open("/read/")
    seat.page.wait_for_selector("[data-read][data-phase=typing]")
    return seat


def type_and_save(seat: Desk, gap: str = GAP_103_104, digits: str = "4550") -> None:
    seat.tap(gap)
    seat.type_height(digits)
    seat.tap("[data-save]")


def saved(seat: Desk) -> str:
    return seat.page.wait_for_selector("[data-result]:not([hidden]) [data-density]").inner_text()


def test_from_the_bench_to_a_saved_reading_in_seven_taps(
    desk: Callable[..., Desk], pieces: list[Any]
) -> None:
    seat = desk("imre")
    seat.page.wait_for_selector("[data-next] b")
    seat.tap("[data-next]")
    seat.page.wait_for_selector("[data-read][data-phase=typing]")
    type_and_save(seat)
    # 455.0 mm is 0.91825 g/cm³: between 0.9149 at 502.0 and 0.9201 at 429.0 mm
    assert "0.91825" in saved(seat)
    assert seat.taps <= MOST_TAPS
    reading = Reading.objects.get()
    assert (str(reading.height_mm), reading.outcome) == ("455.00", "at_rest")
    assert reading.gap_upper_float.label == "F-103"
    assert AuditEntry.objects.get(object_id=reading.pk).facts["device_at"]  # beside the server's
    assert seat.words_missing() == []


def test_nothing_is_prefilled_and_nothing_leads_the_eye(
    desk: Callable[..., Desk], pieces: list[Any]
) -> None:
    """Every answer that the page got before saving is searched, and what stands on it."""
    salma = User.objects.get(username="salma")
    factories.make_reading(actor=salma, specimen=pieces[1], height_mm="444.5")
    seat = desk("imre")
    answers: list[str] = []
    seat.page.on(
        "response",
        lambda answer: answers.append(answer.text()) if "/blind-view/" in answer.url else None,
    )
    seat.open(f"/read/{pieces[0].pk}/")
    seat.page.wait_for_selector("[data-read][data-phase=typing]")
    assert seat.page.inner_text("[data-typed]") == ""
    text = seat.page.content()
    assert answers
    for place in (text.split("<main")[1], *answers):
        assert not re.search(r"0\.9\d\d\d", place)
        assert "444.5" not in place
    assert "1 of 3 read" in seat.page.inner_text("[data-read]")


def test_the_gap_comes_first_and_a_number_outside_it_is_asked_about(
    desk: Callable[..., Desk], pieces: list[Any]
) -> None:
    seat = open_first(desk)
    seat.type_height("4550")
    seat.page.locator("[data-save]").click(force=True)
    assert "Tap the gap first" in seat.page.inner_text("[data-notice]")
    seat.tap(GAP_104_105)
    seat.tap("[data-save]")
    seat.page.wait_for_selector("[data-notice] .banner-stop")
    asked = seat.page.inner_text("[data-notice]")
    assert "455 mm lies between F-103 (502 mm) and F-104 (429 mm)" in asked
    assert "you tapped between F-104" in asked
    assert seat.page.inner_text("[data-typed]") == "455.0"
    assert Reading.objects.count() == 0
    seat.tap(GAP_103_104)
    seat.tap("[data-save]")
    assert "0.91825" in saved(seat)


def test_centimetres_are_offered_as_millimetres(
    desk: Callable[..., Desk], pieces: list[Any]
) -> None:
    seat = open_first(desk)
    seat.tap(GAP_103_104)
    seat.type_height("455")
    seat.tap("[data-save]")
    seat.tap("[data-take]")
    assert seat.page.inner_text("[data-typed]") == "455.0"
    seat.tap("[data-save]")
    assert "0.91825" in saved(seat)


def test_a_double_tap_saves_one_reading(desk: Callable[..., Desk], pieces: list[Any]) -> None:
    seat = open_first(desk)
    seat.tap(GAP_103_104)
    seat.type_height("4550")
    seat.page.locator("[data-save]").dblclick()
    saved(seat)
    seat.page.wait_for_timeout(500)
    assert Reading.objects.filter(withdrawn_at__isnull=True).count() == 1
    assert seat.page.locator("[data-result]").is_visible()


def test_undo_withdraws_it_and_the_next_one_says_that_the_density_was_seen(
    desk: Callable[..., Desk], pieces: list[Any]
) -> None:
    seat = open_first(desk)
    type_and_save(seat)
    saved(seat)
    seat.page.wait_for_selector("[data-undo]:not([disabled])")
    seat.tap("[data-undo]")
    seat.page.wait_for_selector("[data-read][data-phase=typing]")
    assert seat.page.inner_text("[data-typed]") == ""
    type_and_save(seat, digits="4560")
    saved(seat)
    first, second = Reading.objects.order_by("created_at")
    assert (first.withdraw_reason, second.density_seen) == ("undo", True)


def test_the_next_piece_is_opened_and_the_last_one_shows_that_all_are_read(
    desk: Callable[..., Desk], pieces: list[Any]
) -> None:
    seat = open_first(desk)
    for left in (2, 1, 0):
        type_and_save(seat)
        saved(seat)
        remarks = seat.page.inner_text("[data-remarks]")
        assert (f"{left} of this lot still to be read" in remarks) == (left > 0)
        seat.page.wait_for_timeout(750)  # the page ignores a second tap of the same press
        if left:
            seat.tap("[data-next-piece]")
            seat.page.wait_for_selector("[data-read][data-phase=typing]")
    assert "All pieces of this lot are read" in remarks
    assert Reading.objects.count() == 3
    seat.tap("[data-next-piece]")
    seat.page.wait_for_url(lambda url: url.endswith("/"))


@pytest.mark.parametrize(
    ("outcome", "stored"),
    [("bubble", "bubble"), ("cannot_tell", "cannot_tell"), ("off_top", "off_top")],
)
def test_an_outcome_needs_no_height(
    desk: Callable[..., Desk], pieces: list[Any], outcome: str, stored: str
) -> None:
    seat = open_first(desk)
    seat.tap(f'[data-outcome-key="{outcome}"]')
    seat.tap("[data-save]")
    saved(seat)
    reading = Reading.objects.get()
    assert (reading.outcome, reading.height_mm) == (stored, None)


def test_by_keyboard_alone(desk: Callable[..., Desk], pieces: list[Any]) -> None:
    """Arrows choose the gap, digits type, a point fixes the whole part, Enter saves."""
    seat = open_first(desk)
    for key in ("ArrowDown", "ArrowDown", "ArrowDown", *"454.5", "+", "Enter"):
        seat.page.keyboard.press(key)
    assert "0.91825" in saved(seat)
    assert str(Reading.objects.get().height_mm) == "455.00"


def test_without_network_the_number_stays_and_a_retry_makes_one_reading(
    desk: Callable[..., Desk], pieces: list[Any]
) -> None:
    seat = open_first(desk)
    keys: list[str] = []
    seat.page.on(
        "request",
        lambda request: (
            keys.append(request.headers["idempotency-key"])
            if request.method == "POST" and request.url.endswith("/readings/")
            else None
        ),
    )
    # the server takes the reading and its answer is lost on the way
    lost: list[int] = []

    def lose_the_first_answer(route: Any) -> None:
        answer = route.fetch()
        if not lost:
            lost.append(answer.status)
            route.abort()
        else:
            route.fulfill(response=answer)

    seat.page.route("**/api/v1/readings/", lose_the_first_answer)
    type_and_save(seat)
    seat.page.wait_for_selector("[data-notice] .banner-look")
    assert "455.0 mm is still here" in seat.page.inner_text("[data-notice]")
    seat.tap("[data-save]")
    assert "0.91825" in saved(seat)
    assert lost == [201]
    assert len(set(keys)) == 1
    assert Reading.objects.count() == 1


def test_an_ended_session_keeps_what_was_typed_for_its_person_only(
    desk: Callable[..., Desk], pieces: list[Any]
) -> None:
    seat = open_first(desk)
    seat.tap(GAP_103_104)
    seat.type_height("4550")
    seat.page.context.clear_cookies()
    seat.tap("[data-save]")
    seat.page.wait_for_selector("[data-notice] a, #id_username")
    where = f"/read/{pieces[0].pk}/"
    seat.sign_in("salma").open(where)
    seat.page.wait_for_selector("[data-read][data-phase=typing]")
    assert seat.page.inner_text("[data-typed]") == ""
    seat.page.context.clear_cookies()
    seat.sign_in("imre").open(where)
    seat.page.wait_for_selector("[data-read][data-phase=typing]")
    assert seat.page.inner_text("[data-typed]") == "455.0"
    assert seat.page.get_attribute(GAP_103_104, "aria-pressed") == "true"


def test_two_readers_see_both_values_and_choose(
    desk: Callable[..., Desk], pieces: list[Any]
) -> None:
    seat = desk("imre")
    seat.open(f"/read/{pieces[0].pk}/")
    seat.page.wait_for_selector("[data-read][data-phase=typing]")
    seat.tap(GAP_103_104)
    seat.type_height("4550")
    salma = User.objects.get(username="salma")
    factories.make_reading(actor=salma, specimen=pieces[0], height_mm="456.0")
    seat.tap("[data-save]")
    seat.page.wait_for_selector("[data-faster][open]")
    told = seat.page.inner_text("[data-faster]")
    assert "Salma read it" in told
    assert "455.0 mm" in told
    assert Reading.objects.count() == 1
    seat.tap("[data-keep-both]")
    saved(seat)
    assert sorted(str(each.height_mm) for each in Reading.objects.all()) == ["455.00", "456.00"]


def test_a_refresh_takes_neither_the_gap_nor_the_number(
    desk: Callable[..., Desk], pieces: list[Any]
) -> None:
    """A newer float set arrives while the number is half typed."""
    seat = open_first(desk)
    seat.tap(GAP_103_104)
    seat.type_height("45")
    fill = pieces[0].fill
    ingrid = User.objects.get(username="ingrid")
    heights = factories.heights_of(fill, shift_mm="1")
    factories.make_float_set(actor=ingrid, fill=fill, at=SYSTEM_CLOCK.now(), heights=heights)
    with seat.page.expect_response(
        lambda answer: "/blind-view/" in answer.url and answer.status == 200, timeout=15000
    ):
        pass
    assert seat.page.inner_text("[data-typed]") == "4.5"
    assert "between F-103 and F-104" in seat.page.inner_text("[data-ask]")
    seat.type_height("50")
    seat.tap("[data-save]")
    saved(seat)


def test_on_a_phone_the_keys_come_into_view_after_the_gap(
    desk: Callable[..., Desk], pieces: list[Any]
) -> None:
    seat = open_first(desk, size=PHONE)
    seat.tap(GAP_103_104)
    seat.page.wait_for_timeout(300)
    box = seat.page.locator("[data-typed]").bounding_box()
    assert 0 <= box["y"] <= PHONE[1] / 2
    seat.type_height("4550")
    seat.tap("[data-save]")
    assert "0.91825" in saved(seat)
