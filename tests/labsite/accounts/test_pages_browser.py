"""The pages about people, history and search in Chromium: policy, keyboard, accessibility."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.db import DatabaseError, connection, transaction
from playwright.sync_api import sync_playwright

from labsite.accounts.models import ApiToken
from labsite.accounts.roles import Role
from labsite.audit.digests import seal_digest
from tests import factories

pytestmark = pytest.mark.browser

PASSWORD = "correct horse battery"
PAGES = (
    "/account/",
    "/account/password/",
    "/account/tokens/",
    "/roles/",
    "/people/",
    "/people/add/",
    "/history/",
    "/history/verification/",
    "/search/",
    "/search/?q=x",
)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
    with sync_playwright() as playwright:
        path = os.environ.get("CHROMIUM", "/usr/bin/chromium")
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def page(chromium: Any, live_server: Any, flushed_history: None) -> Iterator[Any]:
    """The sign-in page; a script error or a breach of the policy fails the test."""
    factories.make_person(username="yuki", role=Role.ADMINISTRATOR)
    context = chromium.new_context(base_url=live_server.url, viewport={"width": 390, "height": 844})
    page, complaints = context.new_page(), []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "console",
        lambda message: complaints.append(message.text) if "Policy" in message.text else None,
    )
    page.goto("/sign-in/")
    yield page
    context.close()
    assert complaints == []


def sign_in(page: Any) -> None:
    """By keyboard alone."""
    page.focus("#id_username")
    page.keyboard.type("yuki")
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url(lambda url: "/sign-in/" not in url)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_has_an_accessibility_violation_or_scrolls_sideways(page: Any, scheme: str) -> None:
    seal_digest()
    page.emulate_media(color_scheme=scheme)
    found = violations(page, "/sign-in/")
    sign_in(page)
    for address in PAGES:
        page.goto(address)
        found += violations(page, address)
        wide = page.evaluate("document.documentElement.scrollWidth > innerWidth")
        found += [f"{address} scrolls sideways"] if wide else []
    assert found == []


def violations(page: Any, address: str) -> list[str]:
    return [f"{address}: {each['id']}" for each in Axe().run(page).response["violations"]]


def test_a_wrong_password_puts_the_focus_back_into_the_form(page: Any) -> None:
    page.fill("#id_username", "yuki")
    page.fill("#id_password", "wrong")
    page.click("main button[type=submit]")
    page.wait_for_selector("[role=alert]")
    assert page.evaluate("document.activeElement.id") == "id_username"


def test_a_double_tap_sends_a_form_once_and_the_key_can_be_copied(page: Any) -> None:
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    sign_in(page)
    page.goto("/account/tokens/")
    page.fill("#id_name", "line 2")
    page.evaluate(
        "() => { const b = document.querySelector('form[data-once] button[type=submit]');"
        " b.click(); b.click(); }"
    )
    page.wait_for_selector("[data-secret-text]")
    key = page.inner_text("[data-secret-text]")
    page.click("[data-copy]")
    page.wait_for_function("document.querySelector('[data-copy]').textContent === 'Copied'")
    assert page.evaluate("navigator.clipboard.readText()") == key
    assert ApiToken.objects.count() == 1


def test_the_history_is_locked_again_after_each_test(page: Any) -> None:
    """`flushed_history` gave the tests before this one an empty table; its triggers are back."""
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM audit_auditentry")
