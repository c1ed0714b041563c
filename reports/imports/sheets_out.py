"""CSV that is handed out: no cell of it can act when a spreadsheet opens it."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable
from typing import Any

_ACTS = ("=", "+", "-", "@", "\t", "\r")
_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?", re.ASCII)


def harmless(value: Any) -> str:
    """The text with an apostrophe before what a spreadsheet would run; numbers stay numbers."""
    text = "" if value is None else str(value)
    if text.startswith(_ACTS) and not _NUMBER.fullmatch(text):
        return f"'{text}"
    return text


def csv_text(headers: Iterable[Any], rows: Iterable[Iterable[Any]]) -> str:
    """CSV with CRLF line ends; callers that send it encode it as UTF-8 with a mark."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream)
    writer.writerow([harmless(header) for header in headers])
    writer.writerows([harmless(value) for value in row] for row in rows)
    return stream.getvalue()
