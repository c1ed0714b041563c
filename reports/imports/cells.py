"""One cell of a table as text, with what is known about how the file stored it."""

from __future__ import annotations

from dataclasses import dataclass

# How the file stored the cell. Text files know only TEXT.
TEXT, NUMBER, DATE, TIME, TRUTH, FORMULA, BROKEN = (
    "text",
    "number",
    "date",
    "time",
    "truth",
    "formula",
    "broken",
)
_TRIMMED = " \t\r\n\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{ZERO WIDTH NO-BREAK SPACE}"


@dataclass(frozen=True)
class Cell:
    """`text` is trimmed; a number has a point as mark, a date is written as ISO 8601."""

    text: str
    kind: str = TEXT

    @property
    def is_blank(self) -> bool:
        return not self.text


BLANK = Cell("")


def text_cell(text: str) -> Cell:
    return Cell(text.strip(_TRIMMED))
