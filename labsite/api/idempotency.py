"""A POST that creates something names a key; the same key gives the same record."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _
from rest_framework.renderers import JSONRenderer
from rest_framework.response import Response

from labsite.api.models import IdempotencyRecord
from labsite.errors import BadInput, RuleViolation

HEADER = "Idempotency-Key"
LONGEST_KEY = 128


def create_once(request: Any, work: Callable[[], Any], *, status: int = 201) -> Response:
    """Run `work` (a service call that returns the body) once for this person and key.

    A replay answers 200 with the stored body. The record is written in the transaction of the
    work: a crash leaves both or neither, and of two at the same time the second is undone.
    """
    key = read_key(request)
    fingerprint = _fingerprint(request)
    stored = IdempotencyRecord.objects.filter(user=request.user, key=key).first()
    if stored is None:
        try:
            with transaction.atomic():
                body = work()
                _store(request.user, key, fingerprint, body)
            return Response(body, status=status)
        except IntegrityError:
            stored = IdempotencyRecord.objects.filter(user=request.user, key=key).first()
            if stored is None:
                raise
    return _replay(stored, fingerprint)


def read_key(request: Any) -> str:
    key = request.headers.get(HEADER, "").strip()
    if not key:
        raise BadInput(
            "idempotency_key_required",
            _("Send a header Idempotency-Key with a value of your own, new for each record."),
        )
    if len(key) > LONGEST_KEY or not key.isascii() or not key.isprintable():
        raise BadInput(
            "idempotency_key_malformed",
            _("The Idempotency-Key may have up to 128 printable ASCII characters."),
        )
    return key


def _fingerprint(request: Any) -> str:
    content = json.dumps(request.data, sort_keys=True, default=_text)
    text = f"{request.method}\n{request.path}\n{content}"
    return hashlib.sha256(text.encode("utf-8", "backslashreplace")).hexdigest()


def _text(value: Any) -> str:
    """Text that stands for a value JSON cannot hold; of an uploaded file its content counts."""
    if not hasattr(value, "chunks"):
        return str(value)
    content = hashlib.sha256()
    for chunk in value.chunks():
        content.update(chunk)
    value.seek(0)
    return content.hexdigest()


def _store(user: Any, key: str, fingerprint: str, body: Any) -> None:
    IdempotencyRecord.objects.create(
        user=user,
        key=key,
        request_hash=fingerprint,
        answer=JSONRenderer().render(body).decode(),
    )


def _replay(stored: IdempotencyRecord, fingerprint: str) -> Response:
    if stored.request_hash != fingerprint:
        raise RuleViolation(
            "idempotency_key_reused",
            _("This Idempotency-Key was used for another request. Take a new key."),
        )
    return Response(json.loads(stored.answer), status=200)
