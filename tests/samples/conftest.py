"""An open column, a lot to measure in it, and people who dropped and read.

The open column takes some two hundred writes. It is made by the services once; later tests get
the same rows, history included, put back as they were.
"""

from __future__ import annotations

import copy
from datetime import timedelta
from typing import Any

import pytest
from django.apps import apps

from columns.models import Fill
from labsite.accounts.models import User
from labsite.accounts.roles import Role
from labsite.clock import SYSTEM_CLOCK
from samples.models import Grade, Lot
from tests import factories

PEOPLE = (
    ("imre", Role.TECHNICIAN),
    ("salma", Role.TECHNICIAN),
    ("ruta", Role.SHIFT_LEAD),
    ("ingrid", Role.MANAGER),
    ("paulo", Role.AUDITOR),
    ("yuki", Role.ADMINISTRATOR),
)
APPS = ("accounts", "audit", "columns", "samples")
_kept: list[tuple[Any, list[Any]]] = []


@pytest.fixture
def lab(db: Any) -> None:
    """People, a grade, and a column opened an hour ago."""
    if _kept:
        for model, rows in _kept:
            model._base_manager.bulk_create([copy.deepcopy(row) for row in rows])
        return
    _make_lab()
    models = (model for app in APPS for model in apps.get_app_config(app).get_models())
    found = [(model, list(model._base_manager.all())) for model in models]
    _kept.extend((model, rows) for model, rows in found if rows)


def _make_lab() -> None:
    people = {name: factories.make_person(username=name, role=role) for name, role in PEOPLE}
    manager = people["ingrid"]
    factories.make_open_fill(actor=manager, at=SYSTEM_CLOCK.now() - timedelta(hours=1))
    factories.make_grade(actor=manager, name="Wren moulding")


@pytest.fixture
def technician(lab: None) -> User:
    return User.objects.get(username="imre")


@pytest.fixture
def other_technician(lab: None) -> User:
    return User.objects.get(username="salma")


@pytest.fixture
def shift_lead(lab: None) -> User:
    return User.objects.get(username="ruta")


@pytest.fixture
def manager(lab: None) -> User:
    return User.objects.get(username="ingrid")


@pytest.fixture
def auditor(lab: None) -> User:
    return User.objects.get(username="paulo")


@pytest.fixture
def administrator(lab: None) -> User:
    return User.objects.get(username="yuki")


@pytest.fixture
def fill(manager: User) -> Fill:
    return Fill.objects.select_related("column__bath", "pair").get()


@pytest.fixture
def grade(manager: User) -> Grade:
    return Grade.objects.select_related("recipe").get()


@pytest.fixture
def lot(technician: User, grade: Grade) -> Lot:
    return factories.make_lot(actor=technician, grade=grade)


@pytest.fixture
def pieces(technician: User, lot: Lot, fill: Fill) -> list[Any]:
    return factories.make_specimens(actor=technician, lot=lot, fill=fill)
