"""The headers that keep a page to its own scripts, styles and pictures.

Nothing inline runs: no script, no style attribute. Chart pages allow two styles that Plotly
inserts while it starts, named by their hashes, and only those.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

from django.http import HttpResponse

# Styles inserted by plotly.js 4.1.1: the empty element that it fills through the style sheet's
# own interface, and the style of its maps. They change with the package; a browser test draws
# a chart under this policy.
PLOTLY_STYLES = (
    "'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='",
    "'sha256-ji27qzEtxXZW+7dun6UwjHXJ18e6WAin1VvNtkzIE/o='",
)
POLICY = {
    "default-src": ("'none'",),
    "script-src": ("'self'",),
    "style-src": ("'self'",),
    "img-src": ("'self'", "data:", "blob:"),
    "font-src": ("'self'",),
    "connect-src": ("'self'",),
    "form-action": ("'self'",),
    "frame-ancestors": ("'none'",),
    "base-uri": ("'none'",),
}
OTHER_HEADERS = {
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Permitted-Cross-Domain-Policies": "none",
}


def content_policy(*, charts: bool = False) -> str:
    extra = {"style-src": PLOTLY_STYLES} if charts else {}
    return "; ".join(
        " ".join((name, *sources, *extra.get(name, ()))) for name, sources in POLICY.items()
    )


def with_charts(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """For views whose page draws with Plotly (on a class: `method_decorator`, name="dispatch")."""

    @functools.wraps(view)
    def draw(*args: Any, **kwargs: Any) -> HttpResponse:
        response = view(*args, **kwargs)
        response.charts = True
        return response

    return draw
