"""What happens to people's accounts. Each service says which action it needs."""

from __future__ import annotations

from datetime import date
from typing import Any

from axes.utils import reset as forget_wrong_tries
from django.contrib.auth.hashers import make_password
from django.db import IntegrityError
from django.utils.translation import gettext as _

from labsite.accounts import audit_actions as actions
from labsite.accounts.models import SYSTEM_USERNAME, User
from labsite.accounts.passwords import hash_chosen, one_time_password
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action, Role
from labsite.audit.services import change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import Conflict, RuleViolation
from labsite.reasons import require_reason

CHANGEABLE = frozenset({"full_name", "role", "email", "ends_on"})


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

    Raises Conflict when the sign-in name is taken, RuleViolation for a weak password.
    """
    require(actor, Action.MANAGE_ACCOUNTS)
    username = username.strip().lower()
    if username == SYSTEM_USERNAME or User.objects.filter(username__iexact=username).exists():
        raise _taken(username)
    user = User(username=username, full_name=full_name.strip(), role=role, email=email)
    user.ends_on = ends_on
    user.password = make_password(None) if password is None else hash_chosen(password, user)
    user.must_change_password = password is not None
    try:
        with change(actor=actor, clock=clock) as log:
            log.add(user, actions.PERSON_ADDED)
    except IntegrityError as error:  # somebody else took the name at the same moment
        raise _taken(username) from error
    return user


def _taken(username: str) -> Conflict:
    return Conflict(
        "username_taken",
        _("The sign-in name %(name)s is taken. Choose another one.") % {"name": username},
        fields={"username": [_("taken")]},
    )


def change_person(
    *,
    actor: User,
    person: User,
    seen: int | None = None,
    clock: Clock = SYSTEM_CLOCK,
    **fields: Any,
) -> User:
    """Change name, e-mail, role or last day of an account; `seen` is the version that was shown.

    Raises Conflict when somebody else was faster, RuleViolation for one's own role or last day
    and for the last administrator's.
    """
    require(actor, Action.MANAGE_ACCOUNTS)
    if not fields.keys() <= CHANGEABLE:
        raise ValueError(f"not to be changed here: {sorted(fields.keys() - CHANGEABLE)}")
    with change(actor=actor, clock=clock) as log:
        if fields.get("role", Role.ADMINISTRATOR) != Role.ADMINISTRATOR or fields.get("ends_on"):
            _keep_an_administrator(person)
        person = _locked(person)
        if seen is not None and seen != person.version:
            raise Conflict("changed_meanwhile", _changed_meanwhile(person))
        _refuse_own_rights(actor, person, fields)
        changed = {name: value for name, value in fields.items() if getattr(person, name) != value}
        return log.update(person, actions.PERSON_CHANGED, **changed) if changed else person


def _changed_meanwhile(person: User) -> str:
    return _(
        "Somebody else has changed this account since you opened it. "
        "It now says: %(name)s, %(role)s, e-mail %(email)s, last day %(day)s. "
        "Save again if yours should stand."
    ) % {
        "name": person.full_name,
        "role": person.get_role_display(),
        "email": person.email or "–",
        "day": person.ends_on or "–",
    }


def _refuse_own_rights(actor: User, person: User, fields: dict[str, Any]) -> None:
    for name in ("role", "ends_on"):
        if actor.pk == person.pk and fields.get(name, getattr(person, name)) != getattr(
            person, name
        ):
            raise RuleViolation(
                "own_rights",
                _("You cannot change your own role or last day. Another administrator can."),
                fields={name: [_("your own")]},
            )


def _locked(person: User) -> User:
    person = User.objects.select_for_update().get(pk=person.pk)
    if person.is_system:
        raise Conflict("system_account", _("The account of the app itself cannot be changed."))
    return person


def _keep_an_administrator(person: User) -> None:
    """Refuse to lose the last one. Locks them all, so that two cannot close each other."""
    administrators = (
        User.objects.select_for_update()
        .filter(role=Role.ADMINISTRATOR, is_active=True, is_system=False)
        .order_by("pk")
    )
    is_one = {other.pk: other.ends_on for other in administrators}
    lasting = [pk for pk, ends_on in is_one.items() if pk != person.pk and ends_on is None]
    if person.pk in is_one and not lasting:
        raise RuleViolation(
            "last_administrator",
            _("No other administrator would be left. Add one first."),
            fields={"role": [_("the last administrator")]},
        )


def close_account(*, actor: User, person: User, reason: str, clock: Clock = SYSTEM_CLOCK) -> User:
    """Stop all sign-ins and tokens of a person at once; nothing is deleted."""
    require(actor, Action.MANAGE_ACCOUNTS)
    reason = require_reason(reason)
    if actor.pk == person.pk:
        raise RuleViolation("own_account", _("You cannot close your own account."))
    with change(actor=actor, clock=clock, reason=reason) as log:
        _keep_an_administrator(person)
        person = _locked(person)
        if not person.is_active:
            raise Conflict("already_closed", _("This account is closed already."))
        log.update(
            person,
            actions.PERSON_CLOSED,
            is_active=False,
            sessions_ended=person.sessions_ended + 1,
        )
        for token in person.tokens.select_for_update().filter(revoked_at__isnull=True):
            log.update(token, actions.TOKEN_REVOKED, revoked_at=log.now)
    return person


def reopen_account(*, actor: User, person: User, reason: str, clock: Clock = SYSTEM_CLOCK) -> User:
    """Let a person sign in again; their old sessions and tokens stay ended."""
    require(actor, Action.MANAGE_ACCOUNTS)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        person = _locked(person)
        if person.is_active:
            raise Conflict("not_closed", _("This account is not closed."))
        return log.update(person, actions.PERSON_REOPENED, is_active=True)


def end_sessions(*, actor: User, person: User, clock: Clock = SYSTEM_CLOCK) -> User:
    """End every sign-in of a person, on all devices; tokens go on. One's own, or anybody's."""
    require(actor, Action.KEEP_OWN_ACCOUNT if actor.pk == person.pk else Action.MANAGE_ACCOUNTS)
    with change(actor=actor, clock=clock) as log:
        person = _locked(person)
        return log.update(person, actions.SESSIONS_ENDED, sessions_ended=person.sessions_ended + 1)


def change_password(*, actor: User, old: str, new: str, clock: Clock = SYSTEM_CLOCK) -> User:
    """Change one's own password; raises RuleViolation for a wrong old or a weak new one."""
    require(actor, Action.KEEP_OWN_ACCOUNT)
    with change(actor=actor, clock=clock) as log:
        person = _locked(actor)
        if not person.check_password(old):
            raise RuleViolation(
                "wrong_password",
                _("The present password is not right."),
                fields={"old": [_("not right")]},
            )
        if old == new:
            raise RuleViolation(
                "password_unchanged",
                _("Choose a password that differs from the present one."),
                fields={"new": [_("the same as the present one")]},
            )
        password = hash_chosen(new, person, field="new")
        return log.update(
            person, actions.PASSWORD_CHANGED, password=password, must_change_password=False
        )


def reset_password(*, actor: User, person: User, clock: Clock = SYSTEM_CLOCK) -> str:
    """Give a person a one-time password, returned once; it must be changed at the sign-in.

    It ends the person's sign-ins and the waiting time after wrong tries.
    """
    require(actor, Action.MANAGE_ACCOUNTS)
    password = one_time_password()
    with change(actor=actor, clock=clock) as log:
        person = _locked(person)
        if not person.is_active:
            raise Conflict("account_closed", _("This account is closed. Reopen it first."))
        log.update(
            person,
            actions.PASSWORD_RESET,
            password=make_password(password),
            must_change_password=True,
        )
        forget_wrong_tries(username=person.username)
    return password


def note_sign_in(*, person: User, demo: bool = False, clock: Clock = SYSTEM_CLOCK) -> None:
    with change(actor=person, clock=clock) as log:
        log.note(person, actions.SIGNED_IN_DEMO if demo else actions.SIGNED_IN)


def note_refused_sign_in(
    *, person: User, why: str, address: str, clock: Clock = SYSTEM_CLOCK
) -> None:
    """Note a sign-in that failed; it is not known who tried, so the app itself is the actor."""
    with change(actor=system_user(clock=clock), clock=clock) as log:
        log.note(person, actions.SIGN_IN_REFUSED, new={"why": why, "address": address})


def note_sign_out(*, person: User, clock: Clock = SYSTEM_CLOCK) -> None:
    with change(actor=person, clock=clock) as log:
        log.note(person, actions.SIGNED_OUT)
