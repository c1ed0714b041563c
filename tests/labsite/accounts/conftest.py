"""Signed-in browsers for the tests of pages."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from labsite.accounts.models import User


@pytest.fixture
def browser() -> Any:
    """`browser(user)` gives a browser signed in as that person, or as nobody."""

    def open_for(person: User | None) -> Client:
        client = Client()
        if person is not None:
            client.force_login(person, backend="labsite.accounts.backends.LabBackend")
        return client

    return open_for


@pytest.fixture
def everybody(
    technician: User, shift_lead: User, manager: User, auditor: User, administrator: User
) -> list[User]:
    return [technician, shift_lead, manager, auditor, administrator]
