"""A request id for every request, and one way in which errors leave pages and API."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils.dateparse import parse_datetime
from django.utils.timezone import is_aware

from labsite.accounts.refusals import note_refusal
from labsite.api.errors import describe
from labsite.audit import context
from labsite.errors import LabError, NotSignedIn


class RequestContextMiddleware:
    """Gives the request an id; keeps the device's own time when the page sends it."""

    def __init__(self, get_response: Callable[[Any], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: Any) -> HttpResponse:
        request_id = uuid.uuid4().hex
        tokens = (
            (context.request_id, context.request_id.set(request_id)),
            (context.device_time, context.device_time.set(_device_time(request))),
        )
        try:
            response = self.get_response(request)
        finally:
            for variable, token in tokens:
                variable.reset(token)
        response.headers["X-Request-Id"] = request_id
        return response


def _device_time(request: Any) -> Any:
    try:
        value = parse_datetime(request.headers.get("X-Device-Time", ""))
    except ValueError:
        return None
    return value if value is not None and is_aware(value) else None


class LabErrorMiddleware:
    """Tells a LabError of a page as a page, and of an API path as JSON."""

    def __init__(self, get_response: Callable[[Any], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: Any) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: Any, error: Exception) -> HttpResponse | None:
        if not isinstance(error, LabError):
            return None
        if isinstance(error, NotSignedIn) and not wants_json(request):
            return redirect("accounts:sign-in")
        note_refusal(request, error)
        status, body, headers = describe(error)
        if wants_json(request):
            return JsonResponse(body, status=status, headers=headers)
        return render(request, "labsite/refused.html", {"refusal": body}, status=status)


def wants_json(request: Any) -> bool:
    return request.path_info.startswith("/api/")
