"""JSON bodies, read strictly: no NaN, no double keys, no bottomless nesting, no NUL."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.utils.translation import gettext as _
from rest_framework.parsers import BaseParser

from labsite.errors import BadInput, TooLarge

DEEPEST = 20
LONGEST_NUMBER = 40


class StrictJSONParser(BaseParser):
    media_type = "application/json"

    def parse(self, stream: Any, media_type: Any = None, parser_context: Any = None) -> Any:
        body = stream.read(settings.DATA_UPLOAD_MAX_MEMORY_SIZE + 1)
        if len(body) > settings.DATA_UPLOAD_MAX_MEMORY_SIZE:
            raise TooLarge("too_large", _("The body is too large. Send less at a time."))
        try:
            text = body.decode("utf-8")
            content = json.loads(
                text,
                object_pairs_hook=_no_double_keys,
                parse_constant=_no_constants,
                parse_int=_short_int,
                parse_float=_short_float,
            )
        except (ValueError, RecursionError) as error:
            raise BadInput(
                "malformed", _("The body is not proper JSON: %(why)s.") % {"why": error}
            ) from error
        _inspect(content, DEEPEST)
        return content


def _no_double_keys(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a field is given twice")
    return found


def _no_constants(name: str) -> Any:
    raise ValueError(f"{name} is not a number")


def _short_int(text: str) -> int:
    if len(text) > LONGEST_NUMBER:
        raise ValueError("a number is too long")
    return int(text)


def _short_float(text: str) -> float:
    value = float(text)
    if len(text) > LONGEST_NUMBER or value in (float("inf"), float("-inf")):
        raise ValueError("a number is too large or too long")
    return value


def _inspect(value: Any, levels: int) -> None:
    if levels == 0:
        raise BadInput("malformed", _("The body is nested too deeply."))
    if isinstance(value, str) and (
        "\x00" in value or any("\ud800" <= c <= "\udfff" for c in value)
    ):
        raise BadInput("malformed", _("The body holds characters that are not allowed in text."))
    if isinstance(value, dict):
        for name, item in value.items():
            _inspect(name, levels)
            _inspect(item, levels - 1)
    elif isinstance(value, list):
        for item in value:
            _inspect(item, levels - 1)
