"""What the pages and the API ask about people."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db.models import Max, Q, QuerySet
from django.utils import timezone

from labsite.accounts import audit_actions as actions
from labsite.accounts.models import User
from labsite.accounts.permissions import can
from labsite.accounts.roles import GRANTS, Action, Role
from labsite.audit.models import AuditEntry

SIGN_INS = (actions.SIGNED_IN, actions.SIGNED_IN_DEMO)


def people() -> QuerySet[User]:
    """Everybody who has or had an account; not the app itself."""
    return User.objects.filter(is_system=False)


def people_who_may_sign_in() -> QuerySet[User]:
    not_ended = Q(ends_on__isnull=True) | Q(ends_on__gte=timezone.localdate())
    return people().filter(not_ended, is_active=True)


def demo_people() -> list[tuple[Role, list[User]]]:
    """Who is offered on the demo's sign-in page, by role; not who was given a new password."""
    found = list(people_who_may_sign_in().filter(must_change_password=False))
    groups = [(role, [person for person in found if person.role == role]) for role in Role]
    return [(role, group) for role, group in groups if group]


def last_sign_ins(persons: Iterable[User]) -> dict[Any, datetime]:
    """When each was last signed in, from the history."""
    entries = AuditEntry.objects.filter(
        object_type=User._meta.label_lower,
        object_id__in=[person.pk for person in persons],
        action__in=SIGN_INS,
    )
    return dict(entries.values_list("object_id").annotate(Max("at")))


def actions_of(person: User) -> list[Action]:
    return [action for action in Action if can(person, action)]


def role_table() -> list[dict[str, Any]]:
    """The table of role × action, a row for each action."""
    return [
        {"action": action, "grants": [(role, action in GRANTS[role]) for role in Role]}
        for action in Action
    ]
