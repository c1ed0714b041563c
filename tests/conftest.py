"""Shared fixtures: one person of each role, and signed-in API clients."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from importlib import import_module
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.db.models.signals import post_migrate
from rest_framework.test import APIClient

from labsite.accounts.models import User
from labsite.accounts.roles import Role
from tests import factories


class LabClient(APIClient):
    """An API client that gives each POST an Idempotency-Key of its own unless told otherwise."""

    def post(self, path: str, data: Any = None, **extra: Any) -> Any:
        extra.setdefault("HTTP_IDEMPOTENCY_KEY", uuid.uuid4().hex)
        return super().post(path, data, format="json", **extra)

    def patch(self, path: str, data: Any = None, *, etag: str = "", **extra: Any) -> Any:
        if etag:
            extra["HTTP_IF_MATCH"] = etag
        return super().patch(path, data, format="json", **extra)


def client_of(person: User | None) -> LabClient:
    client = LabClient()
    if person is not None:
        client.force_login(person, backend="labsite.accounts.backends.LabBackend")
    return client


@pytest.fixture
def technician(db: Any) -> User:
    return factories.make_person(username="imre", role=Role.TECHNICIAN)


@pytest.fixture
def other_technician(db: Any) -> User:
    return factories.make_person(username="salma", role=Role.TECHNICIAN)


@pytest.fixture
def shift_lead(db: Any) -> User:
    return factories.make_person(username="ruta", role=Role.SHIFT_LEAD)


@pytest.fixture
def manager(db: Any) -> User:
    return factories.make_person(username="ingrid", role=Role.MANAGER)


@pytest.fixture
def auditor(db: Any) -> User:
    return factories.make_person(username="paulo", role=Role.AUDITOR)


@pytest.fixture
def administrator(db: Any) -> User:
    return factories.make_person(username="yuki", role=Role.ADMINISTRATOR)


@pytest.fixture
def as_person() -> Any:
    """`as_person(user)` gives an API client signed in as that person, or as nobody."""
    return client_of


@pytest.fixture
def flushed_history(transactional_db: Any) -> Iterator[None]:
    """For tests with a live server: the tables are emptied after them, which triggers refuse.

    The triggers go before that and come back with the signal that ends it.
    """
    yield
    append_only = import_module("labsite.audit.migrations.0002_append_only")

    def put_back(**_kwargs: Any) -> None:
        post_migrate.disconnect(put_back)
        with connection.cursor() as cursor:
            append_only.install(
                None, SimpleNamespace(connection=connection, execute=cursor.execute)
            )

    with connection.cursor() as cursor:
        append_only.remove(None, SimpleNamespace(connection=connection, execute=cursor.execute))
    post_migrate.connect(put_back, weak=False)
