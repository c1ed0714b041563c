"""API tokens: made by a person for themselves, shown once, revoked by them or an administrator."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime

from django.utils.translation import gettext as _

from labsite.accounts import audit_actions as actions
from labsite.accounts.models import ApiToken, User
from labsite.accounts.permissions import can, require
from labsite.accounts.roles import Action
from labsite.audit.services import change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import Conflict, NotFound, RuleViolation

PREFIX_LENGTH = 8


def make_token(
    *, actor: User, name: str, expires_at: datetime | None = None, clock: Clock = SYSTEM_CLOCK
) -> tuple[ApiToken, str]:
    """Make an API token; the returned key is shown once and kept only as its hash.

    Raises Conflict when a token in use has the name, RuleViolation for an end in the past.
    """
    require(actor, Action.KEEP_OWN_ACCOUNT)
    name = name.strip()
    prefix = secrets.token_hex(PREFIX_LENGTH // 2)
    key = f"rh_{prefix}_{secrets.token_urlsafe(32)}"
    with change(actor=actor, clock=clock) as log:
        _refuse_past(expires_at, log.now)
        _refuse_same_name(actor, name)
        token = ApiToken(owner=actor, name=name, prefix=prefix, expires_at=expires_at)
        token.key_hash = hash_key(key)
        log.add(token, actions.TOKEN_MADE)
    return token, key


def _refuse_past(expires_at: datetime | None, now: datetime) -> None:
    if expires_at is not None and expires_at <= now:
        raise RuleViolation(
            "expires_in_the_past",
            _("The token would have ended already. Choose a later day."),
            fields={"expires_at": [_("in the past")]},
        )


def _refuse_same_name(owner: User, name: str) -> None:
    User.objects.select_for_update().get(pk=owner.pk)  # two taps at once: one after the other
    if owner.tokens.filter(name__iexact=name, revoked_at__isnull=True).exists():
        raise Conflict(
            "token_name_taken",
            _("You have a token with this name. Revoke it first, or choose another name."),
            fields={"name": [_("taken")]},
        )


def hash_key(key: str) -> str:
    """SHA-256 of the key: it has 256 random bits, so no salt and no slow hash are needed."""
    return hashlib.sha256(key.encode("utf-8", "backslashreplace")).hexdigest()


def revoke_token(*, actor: User, token: ApiToken, clock: Clock = SYSTEM_CLOCK) -> ApiToken:
    """End a token at once. Others' tokens do not exist for those who do not keep accounts."""
    require(actor, Action.KEEP_OWN_ACCOUNT)
    if token.owner_id != actor.pk and not can(actor, Action.MANAGE_ACCOUNTS):
        raise NotFound("not_found", _("This does not exist, or you may not see it."))
    with change(actor=actor, clock=clock) as log:
        token = ApiToken.objects.select_for_update().get(pk=token.pk)
        if token.revoked_at is not None:
            return token
        return log.update(token, actions.TOKEN_REVOKED, revoked_at=log.now)
