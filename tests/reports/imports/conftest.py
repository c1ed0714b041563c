"""Files as people bring them, and the ways to hand them in."""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from tests.conftest import client_of


def upload(person: Any, path: str, *, name: str, content: bytes, **fields: Any) -> Any:
    """POST a file; `choices` may be given as a dict."""
    client = _client_of(person)
    if isinstance(fields.get("choices"), dict):
        fields["choices"] = json.dumps(fields["choices"])
    headers = {"HTTP_IDEMPOTENCY_KEY": fields.pop("key", None) or uuid.uuid4().hex}
    body = {"file": SimpleUploadedFile(name, content), **fields}
    return super(type(client), client).post(path, body, format="multipart", **headers)


def _client_of(person: Any) -> Any:
    """Signed in once for each person, because that takes longer than most requests here."""
    if person is None:
        return client_of(None)
    if not hasattr(person, "client_here"):
        person.client_here = client_of(person)
    return person.client_here


@pytest.fixture
def preview() -> Callable[..., Any]:
    def send(person: Any, kind: str, content: bytes, name: str = "book.csv", **more: Any) -> Any:
        path = "/api/v1/imports/preview/"
        return upload(person, path, name=name, content=content, kind=kind, **more)

    return send


@pytest.fixture
def commit(preview: Callable[..., Any]) -> Callable[..., Any]:
    """Preview and save with what the preview gave, or with what is given instead."""

    def send(person: Any, kind: str, content: bytes, name: str = "book.csv", **more: Any) -> Any:
        seen = preview(person, kind, content, name, **_only(more, "choices")).json()
        fields = {
            "kind": kind,
            "sha256": seen.get("file", {}).get("sha256", "0" * 64),
            "choices": seen.get("choices", {}),
            **more,
        }
        return upload(person, "/api/v1/imports/", name=name, content=content, **fields)

    return send


def _only(fields: dict[str, Any], *names: str) -> dict[str, Any]:
    return {name: fields[name] for name in names if name in fields}
