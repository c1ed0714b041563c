"""Plain builders whose defaults are valid. They call services, so that history is real."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from labsite.accounts import audit_actions
from labsite.accounts.models import User
from labsite.accounts.roles import Role
from labsite.accounts.services import system_user
from labsite.audit.services import change
from samples.services import grades, lots, recipes


def make_person(*, username: str, role: str = Role.TECHNICIAN, **fields: Any) -> User:
    password = fields.pop("password", "correct horse battery")
    person = User(username=username, full_name=username.title(), role=role, **fields)
    person.set_password(password)
    with change(actor=system_user()) as log:
        log.add(person, audit_actions.PERSON_ADDED)
    return person


# Grades and lots


def make_recipe(*, actor: User, name: str = "Pellet, as received", **fields: Any) -> Any:
    fields.setdefault("form", "pellet")
    return recipes.add_recipe(actor=actor, name=name, **fields)


def make_grade(*, actor: User, name: str = "Wren film", recipe: Any = None, **fields: Any) -> Any:
    fields.setdefault("expected_density_g_cm3", Decimal("0.9182"))
    fields.setdefault("lower_limit_g_cm3", Decimal("0.9162"))
    fields.setdefault("upper_limit_g_cm3", Decimal("0.9202"))
    fields.setdefault("spread_limit_g_cm3", Decimal("0.0010"))
    recipe = recipe or make_recipe(actor=actor, name=f"{name} recipe")
    return grades.add_grade(actor=actor, name=name, recipe=recipe, **fields)


def make_lot(*, actor: User, grade: Any, code: str = "WR-2211", **fields: Any) -> Any:
    return lots.register_lot(actor=actor, code=code, grade=grade, **fields)
