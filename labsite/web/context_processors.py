"""What every page's frame needs."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from django.utils.formats import get_format

from labsite.web.nav import more_pages, navigation


def frame(request: Any) -> dict[str, Any]:
    match = getattr(request, "resolver_match", None)
    links = navigation(getattr(request, "user", None), match.view_name if match else "")
    return {
        "nav_links": links,
        "more_links": more_pages(getattr(request, "user", None)),
        "nav_current": next((link["label"] for link in links if link["current"]), ""),
        "server_now": timezone.now(),
        "time_zone_name": timezone.get_current_timezone_name(),
        "decimal_mark": get_format("DECIMAL_SEPARATOR"),
    }
