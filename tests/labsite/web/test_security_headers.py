"""The content policy: nothing inline, and Plotly's two styles on chart pages only."""

from __future__ import annotations

import pytest
from django.http import HttpResponse
from django.test import RequestFactory

from labsite.web.middleware import SecurityHeadersMiddleware
from labsite.web.security import PLOTLY_STYLES, content_policy, with_charts


def plain_view(request):
    return HttpResponse("ok")


def headers_of(view):
    return SecurityHeadersMiddleware(view)(RequestFactory().get("/")).headers


def directives(policy: str) -> dict[str, list[str]]:
    return {part.split()[0]: part.split()[1:] for part in policy.split("; ")}


def test_policy_denies_by_default_and_names_each_source():
    assert directives(headers_of(plain_view)["Content-Security-Policy"]) == {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'", "data:", "blob:"],
        "font-src": ["'self'"],
        "connect-src": ["'self'"],
        "form-action": ["'self'"],
        "frame-ancestors": ["'none'"],
        "base-uri": ["'none'"],
    }


@pytest.mark.parametrize("charts", [False, True])
def test_policy_never_allows_anything_inline_or_evaluated(charts):
    assert "unsafe" not in content_policy(charts=charts)


def test_chart_view_allows_two_styles_by_hash():
    policy = directives(headers_of(with_charts(plain_view))["Content-Security-Policy"])
    assert policy["style-src"] == ["'self'", *PLOTLY_STYLES]
    assert policy["script-src"] == ["'self'"]


def test_a_view_that_sets_its_own_policy_keeps_it():
    def strict(request):
        return HttpResponse("ok", headers={"Content-Security-Policy": "default-src 'none'"})

    assert headers_of(strict)["Content-Security-Policy"] == "default-src 'none'"


def test_further_headers_are_set():
    headers = headers_of(plain_view)
    assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "camera=()" in headers["Permissions-Policy"]
