"""What a person should look at in a code that may have passed through a spreadsheet."""

from __future__ import annotations

import re
from collections.abc import Iterable

from django.utils.translation import gettext as _

from reports.imports.cells import NUMBER, Cell
from samples.services.lot_codes import doubts_about

_EXPONENT = re.compile(r"\d+([.,]\d+)?E[+-]?\d+", re.IGNORECASE | re.ASCII)


def code_doubts(cell: Cell) -> Iterable[str]:
    if cell.kind == NUMBER:
        yield _("The sheet keeps this as a number; zeros at its start would be lost.")
        return
    if _EXPONENT.fullmatch(cell.text):
        yield _("Looks like a number that a spreadsheet wrote with an exponent.")
        return
    for doubt in doubts_about(" ".join(cell.text.upper().split())):
        yield doubt.message
