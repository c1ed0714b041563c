"""A lab with a live server, and people at its pages in Chromium."""

from __future__ import annotations

import os
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.core.signals import request_finished, request_started
from playwright.sync_api import sync_playwright

from columns.models import Fill
from labsite.accounts.models import User
from labsite.accounts.roles import Role
from labsite.clock import SYSTEM_CLOCK
from samples.models import Grade
from tests import factories

PASSWORD = "correct horse battery"
IDLE_S = 0.2
TABLET, PHONE, DESKTOP = (1024, 768), (390, 844), (1440, 900)
PEOPLE = (
    ("imre", Role.TECHNICIAN),
    ("salma", Role.TECHNICIAN),
    ("ruta", Role.SHIFT_LEAD),
    ("ingrid", Role.MANAGER),
    ("paulo", Role.AUDITOR),
    ("yuki", Role.ADMINISTRATOR),
)


class Desk:
    """One person's browser. A script error, a breach of the policy or a missing word fails."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.complaints: list[str] = []
        self.taps = 0
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("console", self._listen)

    def _listen(self, message: Any) -> None:
        if "Policy" in message.text:
            self.complaints.append(message.text)

    def sign_in(self, username: str) -> Desk:
        self.page.goto("/sign-in/")
        self.page.fill("#id_username", username)
        self.page.fill("#id_password", PASSWORD)
        self.page.keyboard.press("Enter")
        self.page.wait_for_url(lambda url: "/sign-in/" not in url)
        return self

    def open(self, address: str) -> Any:
        self.page.goto(address)
        return self.page

    def tap(self, selector: str) -> None:
        self.taps += 1
        self.page.locator(selector).click()

    def type_height(self, digits: str) -> None:
        for digit in digits:
            self.tap(f'[data-digit="{digit}"]')

    def words_missing(self) -> list[str]:
        words = "import('/static/labsite/js/words.js').then((words) => words.missingWords())"
        return self.page.evaluate(words)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
    executable = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=executable, args=["--no-sandbox", "--disable-gpu"]
        )
        yield browser
        browser.close()


@pytest.fixture
def quiet_server() -> Iterator[Callable[[], None]]:
    """Waits until no request is under way: a page may still have been polling when it closed,
    and the tables are emptied next."""
    under_way = 0
    lock = threading.Lock()

    def count(step: int) -> None:
        nonlocal under_way
        with lock:
            under_way += step

    def started(**_kwargs: Any) -> None:
        count(1)

    def finished(**_kwargs: Any) -> None:
        count(-1)

    def wait() -> None:
        idle_since = time.monotonic()
        while time.monotonic() - idle_since < IDLE_S:
            time.sleep(0.02)
            if under_way > 0:
                idle_since = time.monotonic()

    request_started.connect(started)
    request_finished.connect(finished)
    yield wait
    request_started.disconnect(started)
    request_finished.disconnect(finished)


@pytest.fixture
def lab(live_server: Any, flushed_history: None) -> Fill:
    """People of each role, a grade, and the column Ash, opened an hour ago."""
    people = {name: factories.make_person(username=name, role=role) for name, role in PEOPLE}
    opened = SYSTEM_CLOCK.now() - timedelta(hours=1)
    fill = factories.make_open_fill(actor=people["ingrid"], at=opened)
    factories.make_grade(actor=people["ingrid"])
    return fill


@pytest.fixture
def pieces(lab: Fill) -> list[Any]:
    """Three of lot WR-2211, dropped by Imre half an hour ago: ready to be read."""
    imre = User.objects.get(username="imre")
    lot = factories.make_lot(actor=imre, grade=Grade.objects.get())
    return factories.make_specimens(actor=imre, lot=lot, fill=lab)


@pytest.fixture
def later(monkeypatch: pytest.MonkeyPatch) -> Callable[[int], None]:
    """`later(11)`: eleven minutes go by, for the server and for every page that it answers."""
    passed = timedelta()
    now = type(SYSTEM_CLOCK).now

    def go_by(minutes: int) -> None:
        nonlocal passed
        passed += timedelta(minutes=minutes)

    monkeypatch.setattr(type(SYSTEM_CLOCK), "now", lambda clock: now(clock) + passed)
    return go_by


@pytest.fixture
def desk(
    chromium: Any, live_server: Any, lab: Fill, quiet_server: Callable[[], None]
) -> Iterator[Callable[..., Desk]]:
    """`desk("imre")` is a signed-in person at a tablet of their own."""
    desks: list[tuple[Any, Desk]] = []

    def sit_down(username: str, size: tuple[int, int] = TABLET, **options: Any) -> Desk:
        context = chromium.new_context(
            base_url=live_server.url, viewport={"width": size[0], "height": size[1]}, **options
        )
        desks.append((context, Desk(context.new_page())))
        return desks[-1][1].sign_in(username)

    yield sit_down
    complaints = [complaint for _context, each in desks for complaint in each.complaints]
    for context, _each in desks:
        context.close()
    quiet_server()
    assert complaints == []
