"""The imports page in Chromium: look at a file, answer, save, and see why another cannot be.

A server in a thread shares the test's connection, so that what it saves is rolled back as ever.
"""

from __future__ import annotations

import shutil
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.db import connections
from django.test.testcases import LiveServerThread

from columns.models import Certificate
from tests.conftest import client_of
from tests.reports.imports.files import FLOAT_HEADERS, csv_of, float_row, floats_file

pytestmark = [pytest.mark.browser, pytest.mark.django_db]


class Desk:
    """A signed-in person at the imports page."""

    def __init__(self, page: Any, ask: Callable[..., Any], folder: Path) -> None:
        self.page, self.ask, self.folder = page, ask, folder
        self.complaints: list[str] = []
        page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def choose(self, name: str, content: bytes) -> None:
        path = self.folder / name
        path.write_bytes(content)
        self.page.set_input_files("#import-file", path)

    def look(self) -> str:
        self.page.click("[data-preview]")
        return self.title()

    def title(self) -> str:
        return self.page.wait_for_selector("[data-result]:not([hidden]) [data-title]").inner_text()


@pytest.fixture
def server(db: Any) -> Any:
    """Address of a server on the test's own connection, and a way to ask the database there."""
    connection = connections["default"]
    connection.inc_thread_sharing()
    thread = LiveServerThread("127.0.0.1", StaticFilesHandler, {"default": connection})
    thread.daemon = True
    thread.start()
    thread.is_ready.wait()
    assert thread.error is None

    def ask(question: Callable[[], Any]) -> Any:
        answers: list[Any] = []

        def run() -> None:
            connections["default"] = connection
            answers.append(question())

        asking = threading.Thread(target=run)
        asking.start()
        asking.join()
        return answers[0]

    yield f"http://127.0.0.1:{thread.port}", ask
    thread.terminate()
    connection.dec_thread_sharing()


@pytest.fixture
def desk(shift_lead: Any, server: Any, tmp_path: Path) -> Any:
    from playwright.sync_api import sync_playwright

    address, ask = server
    session = client_of(shift_lead).cookies[settings.SESSION_COOKIE_NAME].value
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        page = browser.new_page()
        page.context.add_cookies(
            [{"name": settings.SESSION_COOKIE_NAME, "value": session, "url": address}]
        )
        desk = Desk(page, ask, tmp_path)
        page.goto(f"{address}/imports/")
        yield desk
        browser.close()
    assert desk.complaints == []


def test_a_file_is_looked_at_and_saved(desk: Any) -> None:
    desk.choose("certificates.csv", floats_file(3))
    assert desk.look() == "certificates.csv: 3 rows, all can be saved"
    assert desk.page.evaluate("document.activeElement.id") == "import-title"
    assert desk.page.inner_text("[data-would-make]") == "This makes 3 floats, 3 certificates."
    assert desk.ask(Certificate.objects.count) == 0
    desk.page.click("[data-save]")
    desk.page.wait_for_selector("[data-status] .banner")
    assert desk.page.inner_text("[data-status]") == (
        "Saved: 3 floats, 3 certificates, from certificates.csv."
    )
    assert "certificates.csv" in desk.page.inner_text("[data-recent]")
    assert desk.ask(Certificate.objects.count) == 3
    desk.choose("again.csv", floats_file(3))
    assert desk.look() == "again.csv was imported already"
    assert desk.page.is_disabled("[data-save]")


def test_bad_rows_are_listed_and_downloaded(desk: Any) -> None:
    desk.choose("bad.csv", floats_file(30, row7=float_row(6, density="=1")))
    assert desk.look() == "bad.csv: nothing can be saved yet, 1 cells or rows are not right"
    cells = desk.page.locator("[data-bad-table] tbody tr").inner_text()
    assert cells.split("\t")[:3] == ["7", "density (g/cm³)", "=1"]
    assert desk.page.is_disabled("[data-save]")
    with desk.page.expect_download() as download:
        desk.page.click("[data-bad-download]")
    text = Path(download.value.path()).read_text("utf-8-sig")
    assert text.splitlines()[1].startswith("7,density (g/cm³),'=1,")


def test_a_question_is_answered_by_keyboard(desk: Any) -> None:
    row = float_row(1, issued="03/02/2026", valid="03/02/2028")
    desk.choose("days.csv", csv_of([FLOAT_HEADERS, row]))
    assert desk.look() == "days.csv: one question before it can be read"
    assert "03/02/2026" in desk.page.inner_text("[data-rows]")
    desk.page.focus("#import-date_order")
    desk.page.keyboard.press("m")
    desk.page.wait_for_selector("[data-save]:not([disabled])")
    assert "2026-03-02" in desk.page.inner_text("[data-rows]")
    assert desk.page.evaluate("document.activeElement.id") == "import-date_order"


def test_refusals_stand_at_the_file(desk: Any) -> None:
    desk.page.click("[data-preview]")
    assert "Choose a file first" in desk.page.inner_text("[data-import]")
    desk.choose("picture.csv", b"\x89PNG\r\n\x1a\n" + b"0" * 50)
    desk.page.click("[data-preview]")
    desk.page.wait_for_selector("[data-import] .banner-stop")
    assert "This is a picture" in desk.page.inner_text("[data-import]")
    assert desk.page.is_hidden("[data-result]")
