"""One JSON shape for every refusal: {"code", "message", "fields"}."""

from __future__ import annotations

import logging
from typing import Any

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError, OperationalError
from django.http import Http404
from django.utils.translation import gettext as _
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import set_rollback

from labsite.accounts.refusals import note_refusal
from labsite.audit import context
from labsite.errors import LabError

logger = logging.getLogger(__name__)


def handle(error: Exception, view_context: dict[str, Any]) -> Response:
    """DRF's exception handler: every error of an API view passes here."""
    set_rollback()
    note_refusal(view_context["request"], error)
    status, body, headers = describe(error)
    return Response(body, status=status, headers=headers)


def describe(error: Exception) -> tuple[int, dict[str, Any], dict[str, str]]:
    """Status, body and headers that tell `error`; an unexpected one is logged and told as 500."""
    if isinstance(error, LabError):
        body = shape(error.code, error.message, error.fields, **error.extra)
        return error.status, body, {"WWW-Authenticate": "Bearer"} if error.status == 401 else {}
    if isinstance(error, exceptions.ValidationError):
        return 422, shape("invalid", _("Some fields are not right."), flatten(error.detail)), {}
    if isinstance(error, ValidationError):
        return 422, shape("invalid", _("Some fields are not right."), _of_django(error)), {}
    if isinstance(error, exceptions.APIException):
        return _of_drf(error)
    if isinstance(error, Http404):
        return 404, shape("not_found", _("This does not exist, or you may not see it.")), {}
    if isinstance(error, PermissionDenied):
        return 403, shape("not_permitted", _("You may not do this.")), {}
    if isinstance(error, IntegrityError):
        logger.warning("refused by the database: %s", error)
        return 409, shape("conflict", _("This clashes with a record that exists already.")), {}
    if isinstance(error, OperationalError):
        logger.error("database not available: %s", error)
        busy = shape("busy", _("The database is busy or away. Nothing was saved; try again."))
        return 503, busy, {"Retry-After": "5"}
    logger.exception("unexpected error", exc_info=error)
    return 500, shape("unexpected", unexpected_message()), {}


def unexpected_message() -> str:
    return _("Something went wrong on our side; nothing was saved. Quote %(id)s to your admin.") % {
        "id": context.request_id.get() or "-"
    }


def shape(code: str, message: Any, fields: Any = None, **extra: Any) -> dict[str, Any]:
    told = {
        name: [str(text) for text in (texts if isinstance(texts, list | tuple) else [texts])]
        for name, texts in (fields or {}).items()
    }
    return {"code": code, "message": str(message), "fields": told, **extra}


def _of_drf(error: exceptions.APIException) -> tuple[int, dict[str, Any], dict[str, str]]:
    headers = {}
    if getattr(error, "auth_header", None):
        headers["WWW-Authenticate"] = error.auth_header
    if getattr(error, "wait", None):
        headers["Retry-After"] = str(int(error.wait))
    code = getattr(error.detail, "code", None) or error.default_code
    codes = {"not_authenticated": "not_signed_in", "parse_error": "malformed"}
    return error.status_code, shape(codes.get(code, code), error.detail), headers


def _of_django(error: ValidationError) -> dict[str, list[Any]]:
    if hasattr(error, "error_dict"):
        return {name: list(texts) for name, texts in error.message_dict.items()}
    return {"": list(error.messages)}


def flatten(detail: Any, prefix: str = "") -> dict[str, list[Any]]:
    """DRF's nested details as one level: {"heights[2].height_mm": ["…"]}.

    Lines of a list come as a list with empty entries, or as a dict by their number.
    """
    if isinstance(detail, list) and any(isinstance(item, dict) for item in detail):
        detail = dict(enumerate(detail))
    if not isinstance(detail, dict):
        return {prefix: detail if isinstance(detail, list) else [detail]}
    found: dict[str, list[Any]] = {}
    for name, inner in detail.items():
        if inner:
            found |= flatten(inner, _joined(prefix, name))
    return found


def _joined(prefix: str, name: str | int) -> str:
    if isinstance(name, int):
        return f"{prefix}[{name}]"
    if name == "non_field_errors":
        return prefix
    return f"{prefix}.{name}" if prefix else str(name)
