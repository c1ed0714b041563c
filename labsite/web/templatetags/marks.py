"""State marks, flags and cut shapes, drawn from the sprite of base.html; words for scripts."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils.html import format_html, json_script
from django.utils.safestring import SafeString

from labsite.web.words import GROUPS

register = template.Library()

STATES = (
    "planned",
    "poured",
    "settling",
    "open",
    "open_in_part",
    "on_hold",
    "closed",
    "drained",
    "empty",
)
FLAGS = ("stop", "look", "know")
SHAPES = ("square", "triangle", "bar", "disc", "notched", "tee")
# Codes of Django's messages to the flag that carries them.
MESSAGE_FLAGS = {"error": "stop", "warning": "look"}


def _known(name: str, names: tuple[str, ...]) -> str:
    if str(name) not in names:
        raise ValueError(f"no mark is drawn for {name!r}; known: {', '.join(names)}")
    return str(name)


@register.simple_tag
def mark(name: str, css: str = "") -> SafeString:
    """A symbol of the sprite by its whole name: {% mark "arrow-down" %}."""
    return format_html(
        '<svg class="{}" viewBox="0 0 24 24" aria-hidden="true"><use href="#{}"/></svg>', css, name
    )


@register.simple_tag
def state_mark(state: str, word: str, css: str = "") -> SafeString:
    """The small column with its word; one never stands without the other."""
    symbol = mark(f"state-{_known(state, STATES)}")
    return format_html('<span class="state {}">{}<span>{}</span></span>', css, symbol, word)


@register.simple_tag
def flag_mark(level: str) -> SafeString:
    return mark(f"flag-{_known(level, FLAGS)}", f"mark-{level}")


@register.simple_tag
def message_mark(level_tag: str) -> SafeString:
    return flag_mark(MESSAGE_FLAGS.get(level_tag, "know"))


@register.simple_tag
def shape_mark(shape: str, kind: str = "today") -> SafeString:
    """A cut shape: kind falling, today (also ready), yesterday or older."""
    css = f"piece-mark piece piece-{_known(kind, ('falling', 'today', 'yesterday', 'older'))}"
    return mark(f"shape-{_known(shape, SHAPES)}", css)


@register.simple_tag
def page_words(*groups: str, extra: dict[str, Any] | None = None) -> SafeString:
    """Translated words as JSON for words.js: {% page_words "tube" "keypad" extra=more %}."""
    words: dict[str, str] = {}
    for group in groups:
        words |= {key: str(text) for key, text in GROUPS[group].items()}
    words |= {key: str(text) for key, text in (extra or {}).items()}
    return json_script(words, "words-" + "-".join(groups or ("page",)))
