"""The codes of what can happen, each with the words in which the history tells it.

Codes are dotted and past tense. An undeclared code is a programming error and raises.
"""

from __future__ import annotations

from typing import Any

_SENTENCES: dict[str, Any] = {}


def declare(code: str, sentence: Any) -> str:
    """Register `code` with its sentence and return the code."""
    if code in _SENTENCES:
        raise ValueError(f"audit action {code} is declared twice")
    _SENTENCES[code] = sentence
    return code


def sentence_of(code: str) -> Any:
    return _SENTENCES[code]


def declared() -> dict[str, Any]:
    return dict(_SENTENCES)
