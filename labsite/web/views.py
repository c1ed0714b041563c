"""The pages that tell what went wrong; API paths get JSON."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from labsite.api.errors import shape, unexpected_message
from labsite.api.middleware import wants_json


def _refuse(request: Any, status: int, code: str, message: str) -> HttpResponse:
    body = shape(code, message)
    if wants_json(request):
        return JsonResponse(body, status=status)
    return render(request, "labsite/refused.html", {"refusal": body}, status=status)


def bad_request(request: Any, exception: Exception) -> HttpResponse:
    return _refuse(request, 400, "malformed", _("The app could not read this request."))


def forbidden(request: Any, exception: Exception) -> HttpResponse:
    return _refuse(request, 403, "not_permitted", _("You may not do this."))


def not_found(request: Any, exception: Exception) -> HttpResponse:
    return _refuse(request, 404, "not_found", _("This page does not exist, or you may not see it."))


def server_error(request: Any) -> HttpResponse:
    return _refuse(request, 500, "unexpected", unexpected_message())
