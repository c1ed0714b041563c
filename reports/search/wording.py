"""The words and addresses of what was found."""

from __future__ import annotations

from typing import Any

from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from columns.models import CalibrationFloat, Column
from reports.search.selectors import COLUMN, FLOAT, LOT, Hit
from samples.models import Lot

TITLES = {
    LOT: gettext_lazy("Lots"),
    FLOAT: gettext_lazy("Floats"),
    COLUMN: gettext_lazy("Columns"),
}
PAGES = {LOT: "samples:lot", FLOAT: "columns:float-detail", COLUMN: "samples:column"}
MODELS = {LOT: Lot, FLOAT: CalibrationFloat, COLUMN: Column}


def address_of(hit: Hit) -> str:
    """Its page, or its history while it has no page of its own."""
    try:
        return reverse(PAGES[hit.kind], args=[hit.id])
    except NoReverseMatch:
        label = MODELS[hit.kind]._meta.label_lower
        return reverse("audit:object-history", args=[label, hit.id])


def what_it_is(hit: Hit) -> str:
    """F-101 is a float."""
    sentences: dict[str, Any] = {
        LOT: _("%(name)s is a lot."),
        FLOAT: _("%(name)s is a float."),
        COLUMN: _("%(name)s is a column."),
    }
    return sentences[hit.kind] % {"name": hit.name}
