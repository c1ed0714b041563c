"""The strict policy starts in the templates: no inline script, handler or style anywhere."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.template.loader import render_to_string

ROOT = Path(settings.BASE_DIR)
TEMPLATES = sorted(
    path
    for folder in ("labsite", "columns", "samples", "reports")
    for path in (ROOT / folder).rglob("templates/**/*.html")
)
STYLES = sorted(
    path
    for folder in ("labsite", "columns", "samples", "reports")
    for path in (ROOT / folder).rglob("static/**/*.css")
)
INLINE = re.compile(r"\sstyle=|\son[a-z]+=|<style|javascript:", re.IGNORECASE)
BARE_SCRIPT = re.compile(r"<script(?![^>]*\bsrc=)[^>]*>", re.IGNORECASE)
NAMED_COLOUR = re.compile(r":[^;{]*#[0-9a-f]{3,8}\b|:[^;{]*\brgba?\(", re.IGNORECASE)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT)))
def test_template_holds_nothing_inline(path):
    text = path.read_text()
    assert INLINE.findall(text) == []
    assert BARE_SCRIPT.findall(text) == []


@pytest.mark.parametrize("path", STYLES, ids=lambda path: str(path.relative_to(ROOT)))
def test_colours_are_named_in_the_tokens_only(path):
    if path.name == "tokens.css":
        return
    named = [line.strip() for line in path.read_text().splitlines() if NAMED_COLOUR.search(line)]
    assert named == []


@pytest.mark.parametrize("name", ["500.html", "503.html", "403_csrf.html"])
def test_pages_for_a_broken_app_need_no_request(name):
    html = render_to_string(name)
    assert html.count("<h1>") == 1
    assert 'id="content"' in html
