"""What happens to accounts and tokens. Each service says which action it needs."""

from __future__ import annotations

import hashlib
import secrets
from datetime import date, datetime
from typing import Any

from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from labsite.accounts import audit_actions as actions
from labsite.accounts.models import SYSTEM_USERNAME, ApiToken, User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action, Role
from labsite.audit.services import change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import Conflict, RuleViolation

TOKEN_PREFIX_LENGTH = 8


def system_user(*, clock: Clock = SYSTEM_CLOCK) -> User:
    """The user in whose name tasks act; made on first use, and its own first entry says so."""
    user = User.objects.filter(username=SYSTEM_USERNAME).first()
    if user:
        return user
    user = User(
        username=SYSTEM_USERNAME,
        full_name="Restheight",
        role=Role.ADMINISTRATOR,
        is_system=True,
        password=make_password(None),
    )
    with change(actor=user, clock=clock) as log:
        log.add(user, actions.PERSON_ADDED)
    return user


def add_person(
    *,
    actor: User,
    username: str,
    full_name: str,
    role: str,
    email: str = "",
    password: str | None = None,
    ends_on: date | None = None,
    clock: Clock = SYSTEM_CLOCK,
) -> User:
    """Make an account; a given password is borrowed: it must be changed at the first sign-in.

    Raises Conflict when the sign-in name is taken, ValidationError for a weak password.
    """
    require(actor, Action.MANAGE_ACCOUNTS)
    username = username.strip().lower()
    if User.objects.filter(username__iexact=username).exists():
        raise Conflict(
            "username_taken",
            _("The sign-in name %(name)s is taken. Choose another one.") % {"name": username},
            fields={"username": [_("taken")]},
        )
    user = User(username=username, full_name=full_name.strip(), role=role, email=email)
    user.ends_on = ends_on
    _set_password(user, password)
    user.must_change_password = password is not None
    with change(actor=actor, clock=clock) as log:
        log.add(user, actions.PERSON_ADDED)
    return user


def _set_password(user: User, password: str | None) -> None:
    if password is not None:
        try:
            validate_password(password, user)
        except ValidationError as error:
            raise RuleViolation(
                "password_too_weak",
                _("This password is too easy to guess."),
                fields={"password": list(error.messages)},
            ) from error
    user.password = make_password(password)


def change_person(*, actor: User, person: User, clock: Clock = SYSTEM_CLOCK, **fields: Any) -> User:
    """Change name, e-mail, role or last day of an account."""
    require(actor, Action.MANAGE_ACCOUNTS)
    _refuse_own_role(actor, person, fields)
    with change(actor=actor, clock=clock) as log:
        return log.update(_locked(person), actions.PERSON_CHANGED, **fields)


def _refuse_own_role(actor: User, person: User, fields: dict[str, Any]) -> None:
    if actor.pk == person.pk and fields.get("role", person.role) != person.role:
        raise RuleViolation(
            "own_role",
            _("You cannot change your own role. Another administrator can."),
            fields={"role": [_("your own")]},
        )


def _locked(person: User) -> User:
    person = User.objects.select_for_update().get(pk=person.pk)
    if person.is_system:
        raise Conflict("system_account", _("The account of the app itself cannot be changed."))
    return person


def close_account(*, actor: User, person: User, reason: str, clock: Clock = SYSTEM_CLOCK) -> User:
    """Stop all sign-ins and tokens of a person at once; nothing is deleted."""
    require(actor, Action.MANAGE_ACCOUNTS)
    if actor.pk == person.pk:
        raise RuleViolation("own_account", _("You cannot close your own account."))
    with change(actor=actor, clock=clock, reason=reason) as log:
        person = log.update(_locked(person), actions.PERSON_CLOSED, is_active=False)
        for token in person.tokens.filter(revoked_at__isnull=True):
            log.update(token, actions.TOKEN_REVOKED, revoked_at=log.now)
    return person


def reopen_account(*, actor: User, person: User, reason: str, clock: Clock = SYSTEM_CLOCK) -> User:
    require(actor, Action.MANAGE_ACCOUNTS)
    with change(actor=actor, clock=clock, reason=reason) as log:
        return log.update(_locked(person), actions.PERSON_REOPENED, is_active=True)


def change_password(*, actor: User, old: str, new: str, clock: Clock = SYSTEM_CLOCK) -> User:
    """Change one's own password; raises RuleViolation for a wrong old or a weak new one."""
    require(actor, Action.KEEP_OWN_ACCOUNT)
    if not actor.check_password(old):
        raise RuleViolation(
            "wrong_password",
            _("The present password is not right."),
            fields={"old": [_("not right")]},
        )
    with change(actor=actor, clock=clock) as log:
        person = _locked(actor)
        _set_password(person, new)
        return log.update(
            person, actions.PASSWORD_CHANGED, password=person.password, must_change_password=False
        )


def reset_password(*, actor: User, person: User, clock: Clock = SYSTEM_CLOCK) -> str:
    """Give a person a one-time password, returned once; it must be changed at the sign-in."""
    require(actor, Action.MANAGE_ACCOUNTS)
    password = secrets.token_urlsafe(12)
    with change(actor=actor, clock=clock) as log:
        person = _locked(person)
        log.update(
            person,
            actions.PASSWORD_RESET,
            password=make_password(password),
            must_change_password=True,
        )
    return password


def make_token(
    *, actor: User, name: str, expires_at: datetime | None = None, clock: Clock = SYSTEM_CLOCK
) -> tuple[ApiToken, str]:
    """Make an API token; the returned key is shown once and kept only as its hash."""
    require(actor, Action.KEEP_OWN_ACCOUNT)
    secret = secrets.token_urlsafe(32)
    prefix = secrets.token_hex(TOKEN_PREFIX_LENGTH // 2)
    key = f"rh_{prefix}_{secret}"
    with change(actor=actor, clock=clock) as log:
        if expires_at is not None and expires_at <= log.now:
            raise RuleViolation(
                "expires_in_the_past",
                _("The token would have ended already. Choose a later day."),
                fields={"expires_at": [_("in the past")]},
            )
        token = ApiToken(owner=actor, name=name.strip(), prefix=prefix, expires_at=expires_at)
        token.key_hash = hash_key(key)
        log.add(token, actions.TOKEN_MADE)
    return token, key


def hash_key(key: str) -> str:
    """SHA-256 of the key: it has 256 random bits, so no salt and no slow hash are needed."""
    return hashlib.sha256(key.encode()).hexdigest()


def revoke_token(*, actor: User, token: ApiToken, clock: Clock = SYSTEM_CLOCK) -> ApiToken:
    require(actor, Action.KEEP_OWN_ACCOUNT)
    if token.owner_id != actor.pk:
        require(actor, Action.MANAGE_ACCOUNTS)
    with change(actor=actor, clock=clock) as log:
        token = ApiToken.objects.select_for_update().get(pk=token.pk)
        if token.revoked_at is not None:
            return token
        return log.update(token, actions.TOKEN_REVOKED, revoked_at=log.now)


def note_sign_in(*, person: User, demo: bool = False, clock: Clock = SYSTEM_CLOCK) -> None:
    with change(actor=person, clock=clock) as log:
        log.note(person, actions.SIGNED_IN_DEMO if demo else actions.SIGNED_IN)


def note_sign_out(*, person: User, clock: Clock = SYSTEM_CLOCK) -> None:
    with change(actor=person, clock=clock) as log:
        log.note(person, actions.SIGNED_OUT)
