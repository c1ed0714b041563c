"""Security headers of every answer."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from labsite.web.security import OTHER_HEADERS, content_policy


class SecurityHeadersMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        policy = content_policy(charts=getattr(response, "charts", False))
        response.headers.setdefault("Content-Security-Policy", policy)
        for name, value in OTHER_HEADERS.items():
            response.headers.setdefault(name, value)
        return response
