"""Refreshing: ETag polling, pace, and that nothing held by a person is taken away."""

from __future__ import annotations

import json

import pytest

from tests.labsite.web.overviews import make_bench, make_overview, make_tray_piece

pytestmark = pytest.mark.browser
BODY = '<div class="baths" data-baths></div><ul class="list" data-ready></ul>'
SHOW = """async (bench) => {
  const view = await import("/static/labsite/js/benchview.js");
  view.showBaths(document.querySelector("[data-baths]"), bench, () => "/page");
  view.showReady(document.querySelector("[data-ready]"), bench, () => "/page");
}"""


def test_unchanged_column_is_left_alone_and_changed_one_is_drawn_anew(bench):
    page = bench.open(BODY)
    other = {**make_overview(), "id": "cedar", "name": "Cedar"}
    page.evaluate(SHOW, make_bench([make_overview(), other]))
    page.evaluate("document.querySelectorAll('svg.tube').forEach((n) => { n.dataset.old = 'y'; })")
    changed = make_overview(tray=[make_tray_piece("AV-1033", "disc", "falling")])
    page.evaluate(SHOW, make_bench([changed, other]))
    assert page.locator("svg.tube").count() == 2
    assert page.locator("svg.tube[data-old]").count() == 1


def test_focus_stays_where_it_was(bench):
    page = bench.open(BODY)
    page.evaluate(SHOW, make_bench([make_overview()]))
    page.get_by_role("link", name="Damson", exact=True).focus()
    page.evaluate(SHOW, make_bench([make_overview(state_word="Closed", state="closed")]))
    assert page.locator(".column-state").text_content().strip() == "Closed"
    assert page.evaluate("document.activeElement.textContent") == "Damson"


def test_ready_piece_with_the_focus_is_removed_only_when_the_focus_leaves(bench):
    page = bench.open(BODY)
    page.evaluate(SHOW, make_bench([make_overview()]))
    page.locator("[data-ready] a").focus()
    page.evaluate(SHOW, make_bench([make_overview(tray=[])]))
    assert page.locator("[data-ready] a").count() == 1
    page.evaluate("document.activeElement.blur()")
    page.wait_for_function("document.querySelectorAll('[data-ready] a').length === 0")


def test_arrivals_wait_while_a_finger_is_down(bench):
    page = bench.open(BODY)
    page.evaluate(SHOW, make_bench([make_overview()]))
    page.mouse.move(300, 300)
    page.mouse.down()
    page.evaluate(SHOW, make_bench([make_overview(state="closed", state_word="Closed")]))
    assert page.locator(".column-state").text_content().strip() == "Open"
    page.mouse.up()
    page.wait_for_function(
        "document.querySelector('.column-state').textContent.trim() === 'Closed'"
    )


def test_poll_sends_the_etag_and_takes_304_as_no_change(bench):
    seen = []

    def answer(route):
        tag = route.request.headers.get("if-none-match")
        seen.append(tag)
        if tag == '"7"':
            return route.fulfill(status=304)
        return route.fulfill(
            body=json.dumps({"server_time": "2026-10-06T07:58:00Z", "value": 7}),
            content_type="application/json",
            headers={"ETag": '"7"'},
        )

    bench.answers["/api/v1/thing"] = answer
    page = bench.open()
    page.evaluate(
        """async () => {
          const { poll } = await import("/static/labsite/js/poll.js");
          window.got = [];
          window.polling = poll({ url: "/api/v1/thing", every: 60,
            onData: (data) => window.got.push(data.value) });
        }"""
    )
    page.wait_for_timeout(500)
    page.evaluate("window.polling.stop()")
    assert seen[0] is None
    assert len(seen) >= 3
    assert set(seen[1:]) == {'"7"'}
    assert page.evaluate("window.got") == [7]


@pytest.mark.parametrize(("failures", "wait"), [(0, 2000), (1, 4000), (3, 16000), (9, 30000)])
def test_lost_network_is_asked_less_and_less_often(bench, failures, wait):
    page = bench.open()
    assert bench.call(page, "poll.js", "nextWait", 2000, failures) == wait


def test_page_ages_by_itself_what_has_outlived_its_validity(bench):
    page = bench.open()
    state = page.evaluate(
        """async () => {
          const { freshness } = await import("/static/labsite/js/poll.js");
          const at = (iso) => new Date(iso);
          const validUntil = "2026-10-06T13:05:00Z";
          return [
            freshness({ validUntil, failures: 0, at: at("2026-10-06T13:04:59Z") }),
            freshness({ validUntil, failures: 2, at: at("2026-10-06T13:04:59Z") }),
            freshness({ validUntil, failures: 0, at: at("2026-10-06T13:05:00Z") }),
          ];
        }"""
    )
    assert state == ["fresh", "lost", "expired"]


def test_retry_of_one_submission_keeps_its_key_and_a_new_one_gets_another(bench):
    keys = []
    replies = iter([None, 503, 201, 201])

    def answer(route):
        keys.append(route.request.headers["idempotency-key"])
        status = next(replies)
        if status is None:
            return route.abort()
        return route.fulfill(status=status, body="{}", content_type="application/json")

    bench.answers["/api/v1/readings"] = answer
    page = bench.open()
    for _ in range(4):
        page.evaluate(
            """async () => {
              const { create } = await import("/static/labsite/js/api.js");
              try { await create("/api/v1/readings", { height_mm: "466.5" }); } catch { return; }
            }"""
        )
    bench.complaints.clear()  # Chromium itself reports the lost and the refused answer
    assert keys[0] == keys[1] == keys[2]
    assert keys[3] != keys[0]


def test_errors_stand_at_their_fields_in_the_servers_words(bench):
    page = bench.open(
        '<form id="f"><div class="field"><label for="h">Height</label>'
        '<input id="h" name="height_mm" value="4x"></div></form>'
    )
    page.evaluate(
        """async () => {
          const { showErrors } = await import("/static/labsite/js/fields.js");
          showErrors(document.getElementById("f"), { code: "invalid", message: "Not saved.",
            fields: { height_mm: ["Type a number such as 466.5."] } });
        }"""
    )
    field = page.get_by_label("Height")
    assert field.get_attribute("aria-invalid") == "true"
    assert page.locator("#error-height_mm").text_content() == "Type a number such as 466.5."
    assert page.evaluate("document.activeElement.id") == "h"
    assert field.input_value() == "4x"
