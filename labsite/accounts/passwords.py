"""One-time passwords, and the rule for passwords that people choose."""

from __future__ import annotations

import secrets

from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from labsite.accounts.models import User
from labsite.errors import RuleViolation

# Nothing that is mistaken for something else when it is read from a slip of paper.
ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"
GROUPS, GROUP_LENGTH = 4, 4  # 16 of 31 characters: 79 bits
LONGEST = 200  # a longer one would only keep the hash busy


def one_time_password() -> str:
    """Four groups of four, such as kq7m-x2pd-97vt-hbwe."""
    groups = (
        "".join(secrets.choice(ALPHABET) for _place in range(GROUP_LENGTH))
        for _group in range(GROUPS)
    )
    return "-".join(groups)


def hash_chosen(password: str, person: User, *, field: str = "password") -> str:
    """The hash of a password that is good enough; RuleViolation says what is wrong with it."""
    if len(password) > LONGEST:
        raise RuleViolation(
            "password_too_long",
            _("A password may have up to %(longest)d characters.") % {"longest": LONGEST},
            fields={field: [_("too long")]},
        )
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise RuleViolation(
            "password_too_weak",
            _("This password is too easy to guess."),
            fields={field: list(error.messages)},
        ) from error
    return make_password(password)
