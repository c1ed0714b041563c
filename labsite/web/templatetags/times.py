"""Times as people say them: relative for two days, then the date; in full on records."""

from __future__ import annotations

from datetime import datetime, timedelta

from django import template
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

register = template.Library()

RELATIVE_UNTIL = timedelta(hours=48)


@register.filter
def span(length: timedelta | None) -> str:
    """38 min · 3 h 10 · 31 h · 9 d"""
    if length is None:
        return "–"
    minutes = max(0, int(length.total_seconds() // 60))
    if minutes < 60:
        return _("%(minutes)d min") % {"minutes": minutes}
    if minutes < 600:
        return _("%(hours)d h %(minutes)02d") % {"hours": minutes // 60, "minutes": minutes % 60}
    if minutes < 48 * 60:
        return _("%(hours)d h") % {"hours": minutes // 60}
    return _("%(days)d d") % {"days": minutes // (24 * 60)}


@register.filter
def ago(at: datetime | None, now: datetime | None = None) -> str:
    """38 min ago, below two days; 6 Oct, 09:58 after that."""
    if at is None:
        return _("none yet")
    passed = (now or timezone.now()) - at
    if timedelta(0) <= passed < RELATIVE_UNTIL:
        return _("%(span)s ago") % {"span": span(passed)}
    return day_and_time(at)


@register.filter
def clock(at: datetime | None) -> str:
    """09:58 in the lab's own zone."""
    return date_format(timezone.localtime(at), "H:i") if at else "–"


@register.filter
def day_and_time(at: datetime | None) -> str:
    """6 Oct, 09:58, with the year when it is not this one."""
    if at is None:
        return _("none yet")
    local = timezone.localtime(at)
    day = "j M" if local.year == timezone.localtime().year else "j M Y"
    return date_format(local, f"{day}, H:i")


@register.filter
def in_full(at: datetime | None) -> str:
    """6 Oct 2026 10:04:31 +02:00, for records."""
    if at is None:
        return "–"
    local = timezone.localtime(at)
    offset = local.strftime("%z")
    return f"{date_format(local, 'j M Y H:i:s')} {offset[:3]}:{offset[3:]}"


@register.simple_tag
def moment(at: datetime | None, form: str = "day_and_time") -> SafeString:
    """A <time> element: {% moment reading.read_at "ago" %}."""
    if at is None:
        return format_html("<span>{}</span>", _("none yet"))
    words = {"ago": ago, "clock": clock, "day_and_time": day_and_time, "in_full": in_full}[form]
    return format_html(
        '<time datetime="{}" title="{}">{}</time>', at.isoformat(), in_full(at), words(at)
    )
