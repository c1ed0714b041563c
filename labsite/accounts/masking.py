"""Accounts in the history: values are for their owner and for those who keep or check accounts.

Everybody may see that an account changed; an address or a failed sign-in is nobody else's matter.
"""

from __future__ import annotations

from typing import Any

from labsite.accounts.models import ApiToken, User
from labsite.accounts.permissions import can
from labsite.accounts.roles import Action
from labsite.audit import masking
from labsite.audit.models import AuditEntry


def may_see_accounts(person: Any) -> bool:
    return can(person, Action.MANAGE_ACCOUNTS) or can(person, Action.VERIFY_HISTORY)


def hidden_accounts(person: Any, entries: list[AuditEntry]) -> set[int]:
    if may_see_accounts(person):
        return set()
    return {entry.pk for entry in entries if entry.object_id != person.pk}


def hidden_tokens(person: Any, entries: list[AuditEntry]) -> set[int]:
    if may_see_accounts(person):
        return set()
    return {entry.pk for entry in entries if entry.actor_id != person.pk}


def hide_in_history() -> None:
    masking.register(User._meta.label_lower, hidden_accounts)
    masking.register(ApiToken._meta.label_lower, hidden_tokens)
