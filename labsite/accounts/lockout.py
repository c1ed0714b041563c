"""What happens after too many wrong passwords."""

from __future__ import annotations

from typing import Any

from axes.handlers.proxy import AxesProxyHandler
from axes.helpers import get_credentials
from django.conf import settings
from django.http import HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from labsite.api.errors import describe
from labsite.api.middleware import wants_json
from labsite.errors import TooManyTries


def is_locked_out(request: Any, username: str) -> bool:
    return not AxesProxyHandler.is_allowed(request, get_credentials(username=username))


def refuse(request: Any, response: Any = None, credentials: Any = None) -> HttpResponse:
    """The answer to a locked-out name; the lockout library's middleware asks for it as well."""
    status, body, _headers = describe(_error())
    if wants_json(request):
        answer = JsonResponse(body, status=status)
    else:
        answer = render(request, "labsite/refused.html", {"refusal": body}, status=status)
    answer.headers["Retry-After"] = str(int(settings.AXES_COOLOFF_TIME.total_seconds()))
    return answer


def _error() -> TooManyTries:
    minutes = int(settings.AXES_COOLOFF_TIME.total_seconds() // 60)
    return TooManyTries(
        "too_many_tries",
        _(
            "Too many wrong passwords for this name. Wait %(minutes)d minutes, "
            "or ask the administrator for a new password."
        )
        % {"minutes": minutes},
    )
