"""Flags on columns, told in words."""

from __future__ import annotations

from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from columns.models import ColumnFlag

SENTENCES = {
    ColumnFlag.Kind.LOWER_END: gettext_lazy(
        "The lowest float, %(float)s, is %(distance)s mm from the end of the readable part."
    ),
    ColumnFlag.Kind.UPPER_END: gettext_lazy(
        "The highest float, %(float)s, is %(distance)s mm from the end of the readable part."
    ),
}


def open_flags() -> QuerySet[ColumnFlag]:
    """Flags whose cause is still there, newest first."""
    return ColumnFlag.objects.filter(cleared_at__isnull=True).select_related("column")


def flag_text(flag: ColumnFlag) -> str:
    """What was noticed when the flag was raised."""
    facts = flag.fact_values
    words = {"float": facts["float"], "distance": facts["distance_mm"]}
    text = str(SENTENCES[flag.kind]) % words
    if facts.get("days_left"):
        text += " " + _("At its present way it gets there in about %(days)s days.") % {
            "days": facts["days_left"]
        }
    return text
