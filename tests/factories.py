"""Plain builders whose defaults are valid. They call services, so that history is real."""

from __future__ import annotations

from typing import Any

from labsite.accounts import audit_actions
from labsite.accounts.models import User
from labsite.accounts.roles import Role
from labsite.accounts.services import system_user
from labsite.audit.services import change


def make_person(*, username: str, role: str = Role.TECHNICIAN, **fields: Any) -> User:
    password = fields.pop("password", "correct horse battery")
    person = User(username=username, full_name=username.title(), role=role, **fields)
    person.set_password(password)
    with change(actor=system_user()) as log:
        log.add(person, audit_actions.PERSON_ADDED)
    return person
