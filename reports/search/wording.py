"""The words and addresses of what was found."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from reports.search.selectors import COLUMN, FLOAT, LOT, Hit

TITLES = {
    LOT: gettext_lazy("Lots"),
    FLOAT: gettext_lazy("Floats"),
    COLUMN: gettext_lazy("Columns"),
}
PAGES = {LOT: "samples:lot", FLOAT: "columns:float", COLUMN: "columns:column"}


def address_of(hit: Hit) -> str:
    return reverse(PAGES[hit.kind], args=[hit.id])


def what_it_is(hit: Hit) -> str:
    """F-101 is a float."""
    sentences: dict[str, Any] = {
        LOT: _("%(name)s is a lot."),
        FLOAT: _("%(name)s is a float."),
        COLUMN: _("%(name)s is a column."),
    }
    return sentences[hit.kind] % {"name": hit.name}
