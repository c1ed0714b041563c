"""Template tags: marks with their words, numbers and times as people read them."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.conf import settings
from django.template import engines
from django.utils import timezone, translation

from labsite.web.templatetags import marks, numbers, times
from labsite.web.words import GROUPS

TEMPLATES = Path(settings.BASE_DIR) / "labsite" / "templates"
SPRITE = (TEMPLATES / "labsite" / "_sprite.html").read_text()


def render(source: str, **context) -> str:
    return engines["django"].from_string("{% load marks numbers times %}" + source).render(context)


def test_sprite_draws_every_state_flag_and_shape_once():
    drawn = re.findall(r'<symbol id="([^"]+)"', SPRITE)
    assert len(drawn) == len(set(drawn))
    wanted = {f"state-{name}" for name in marks.STATES}
    wanted |= {f"flag-{name}" for name in marks.FLAGS}
    wanted |= {f"shape-{name}" for name in marks.SHAPES}
    assert wanted <= set(drawn)


def test_state_mark_never_stands_without_its_word():
    html = render('{% state_mark "on_hold" word %}', word="On <hold>")
    assert 'href="#state-on_hold"' in html
    assert "On &lt;hold&gt;" in html


@pytest.mark.parametrize(
    "source",
    ['{% state_mark "ajar" "Ajar" %}', '{% flag_mark "fine" %}', '{% shape_mark "heart" %}'],
)
def test_unknown_mark_is_refused(source):
    with pytest.raises(ValueError, match="no mark is drawn"):
        render(source)


def test_page_words_hand_over_a_group_as_json():
    html = render('{% page_words "keypad" extra=more %}', more={"a.b": "</script>"})
    words = json.loads(re.search(r">(.*)</script>", html).group(1))
    assert words["keypad.clear"] == "clear"
    assert words["a.b"] == "</script>"
    assert html.count("</script>") == 1


def test_same_word_means_the_same_in_every_group():
    seen: dict[str, str] = {}
    for group in GROUPS.values():
        for key, text in group.items():
            assert seen.setdefault(key, str(text)) == str(text)


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (Decimal("466.50"), "466.50"),
        ("0.00004", "0.00004"),
        (Decimal("4E-7"), "0.0000004"),
        (Decimal("-0.2"), "−0.2"),
        (9, "9"),
        (None, "–"),
        ("", "–"),
    ],
)
def test_decimal_is_written_with_the_places_it_came_with(value, shown):
    assert numbers.decimal(value) == shown


def test_decimal_mark_follows_the_language():
    with translation.override("de"):
        assert numbers.decimal("466.5") == "466,5"


@pytest.mark.parametrize(
    ("value", "shown"), [("0.00004", "+0.00004"), ("-0.00002", "−0.00002"), ("0.0", "0.0")]
)
def test_misfit_always_shows_its_sign(value, shown):
    assert numbers.signed(value) == shown


def test_number_and_unit_are_not_parted():
    assert numbers.height("466.5") == "466.5\u00a0mm"
    assert numbers.density(None) == "–"


@pytest.mark.parametrize(
    ("minutes", "shown"),
    [
        (0, "0 min"),
        (59, "59 min"),
        (190, "3 h 10"),
        (603, "10 h"),
        (31 * 60, "31 h"),
        (48 * 60, "2 d"),
        (9 * 1440 + 5, "9 d"),
    ],
)
def test_span_in_the_words_of_the_bench(minutes, shown):
    assert times.span(timedelta(minutes=minutes)) == shown


def test_relative_for_two_days_then_the_date():
    now = datetime(2026, 10, 6, 8, 0, tzinfo=UTC)
    assert times.ago(now - timedelta(minutes=38), now) == "38 min ago"
    assert "ago" not in times.ago(now - timedelta(hours=49), now)
    assert times.ago(None) == "none yet"


def test_records_show_the_second_and_the_offset():
    at = datetime(2026, 10, 6, 8, 4, 31, tzinfo=UTC)
    with timezone.override("Europe/Berlin"):
        assert times.in_full(at) == "6 Oct 2026 10:04:31 +02:00"
        assert times.clock(at) == "10:04"
