"""Signed-in clients, and bodies as a page would send them."""

from __future__ import annotations

from typing import Any

import pytest

from columns.models import Fill
from labsite.accounts.models import User
from tests import factories


@pytest.fixture
def as_technician(as_person: Any, technician: User) -> Any:
    return as_person(technician)


@pytest.fixture
def as_lead(as_person: Any, shift_lead: User) -> Any:
    return as_person(shift_lead)


@pytest.fixture
def as_manager(as_person: Any, manager: User) -> Any:
    return as_person(manager)


@pytest.fixture
def as_nobody(as_person: Any, db: Any) -> Any:
    return as_person(None)


def lines_of(fill: Fill, **fields: Any) -> list[dict[str, Any]]:
    """The lines of a float set as JSON."""
    return [
        {
            "calibration_float": str(each["calibration_float"].pk),
            "height_mm": str(each["height_mm"]),
        }
        for each in factories.heights_of(fill, **fields)
    ]


@pytest.fixture
def set_body(open_fill: Fill) -> dict[str, Any]:
    return {
        "fill": str(open_fill.pk),
        "bath_temperature_c": "23.0",
        "heights": lines_of(open_fill),
    }
