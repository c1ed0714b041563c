"""Fixtures of the columns: an open fill with a passing set, and what tests ask of the history."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest

from columns.models import Fill
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.clock import SYSTEM_CLOCK
from tests import factories


@pytest.fixture
def now() -> datetime:
    """Some minutes ago, so that things can happen after it and before the server's now."""
    return SYSTEM_CLOCK.now() - timedelta(minutes=30)


@pytest.fixture
def open_fill(shift_lead: User, technician: User, now: datetime) -> Fill:
    """Opened at `now`, its last set five minutes older."""
    return factories.make_open_fill(actor=shift_lead, at=now, reader=technician)


@pytest.fixture
def settling_fill(shift_lead: User, now: datetime) -> Fill:
    """Poured two days before `now`, no set read yet."""
    return factories.make_settling_fill(actor=shift_lead, at=now - timedelta(days=2))


@pytest.fixture
def entries_of() -> Callable[[Any], list[str]]:
    """The action codes in the history of a row, oldest first."""

    def codes(record: Any) -> list[str]:
        found = AuditEntry.objects.filter(object_id=record.pk).order_by("sequence")
        return list(found.values_list("action", flat=True))

    return codes
