"""A browser whose only server is a routing function: static files and pages made by a test."""

from __future__ import annotations

import json
import mimetypes
import shutil
from contextlib import contextmanager
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.template import engines

from labsite.web.security import content_policy

ORIGIN = "http://restheight.test"
FRAME = """{% extends "base.html" %}{% load static marks %}
{% block title %}Test{% endblock %}
{% block styles %}<link rel="stylesheet" href="{% static "labsite/css/tube.css" %}">
<link rel="stylesheet" href="{% static "labsite/css/bench.css" %}">
<link rel="stylesheet" href="{% static "labsite/css/keypad.css" %}">
<link rel="stylesheet" href="{% static "labsite/css/densityaxis.css" %}">{% endblock %}
{% block words %}{% page_words "tube" "keypad" "bench" "axis" %}{% endblock %}
{% block content %}<h1>Test</h1>BODY{% endblock %}
{% block scripts %}SCRIPTS{% endblock %}"""


class Bench:
    """One browser page with the product's own frame, policy and words around a test's body."""

    def __init__(self, context):
        self.context = context
        self.pages: dict[str, tuple[str, bool]] = {}
        self.answers: dict[str, object] = {}
        self.complaints: list[str] = []
        context.route("**/*", self._serve)

    def _serve(self, route):
        path = route.request.url.removeprefix(ORIGIN).split("?")[0]
        if path in self.answers:
            return self.answers[path](route)
        if path in self.pages:
            html, charts = self.pages[path]
            policy = content_policy(charts=charts)
            return route.fulfill(
                body=html,
                content_type="text/html; charset=utf-8",
                headers={"Content-Security-Policy": policy},
            )
        found = finders.find(path.removeprefix("/static/"))
        if not found:
            return route.fulfill(status=404, body="not found")
        kind = mimetypes.guess_type(found)[0] or "application/octet-stream"
        return route.fulfill(body=Path(found).read_bytes(), content_type=kind)

    def open(self, body="", *, scripts="", charts=False, **viewport):
        source = FRAME.replace("BODY", body).replace("SCRIPTS", scripts)
        html = engines["django"].from_string(source).render({})
        self.pages["/page"] = (html, charts)
        page = self.context.new_page()
        page.on("console", self._listen)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        if viewport:
            page.set_viewport_size(viewport)
        page.goto(f"{ORIGIN}/page")
        return page

    def _listen(self, message):
        if message.type in ("error", "warning"):
            self.complaints.append(message.text)

    @staticmethod
    def call(page, module, name, *arguments):
        """The result of an exported pure function."""
        return page.evaluate(
            "async ([path, name, given]) => (await import(path))[name](...given)",
            [f"/static/labsite/js/{module}", name, json.loads(json.dumps(arguments))],
        )


@pytest.fixture(scope="session")
def chromium():
    from playwright.sync_api import sync_playwright

    executable = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=executable, args=["--no-sandbox", "--disable-gpu"]
        )
        yield browser
        browser.close()


@contextmanager
def open_bench(chromium):
    context = chromium.new_context(viewport={"width": 1024, "height": 768})
    bench = Bench(context)
    yield bench
    context.close()
    assert bench.complaints == []


@pytest.fixture
def bench(chromium):
    with open_bench(chromium) as bench:
        yield bench


@pytest.fixture(scope="module")
def calculator(chromium):
    """One page for a whole module that calls pure functions only."""
    with open_bench(chromium) as bench:
        page = bench.open()
        yield lambda module, name, *arguments: bench.call(page, module, name, *arguments)
