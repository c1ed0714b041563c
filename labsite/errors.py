"""The errors that services raise and that every door (page, API, task) shows alike.

Free of Django on purpose: pure code and tests may import it.
"""

from __future__ import annotations

from typing import Any


class LabError(Exception):
    """A refusal the user can act on: a stable code, a sentence, and the fields concerned."""

    status = 400

    def __init__(
        self,
        code: str,
        message: Any,
        *,
        fields: dict[str, list[Any]] | None = None,
        **extra: Any,
    ) -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.fields = fields or {}
        self.extra = extra


class BadInput(LabError):
    """The request cannot be parsed."""

    status = 400


class NotSignedIn(LabError):
    status = 401


class NotPermitted(LabError):
    status = 403


class NotFound(LabError):
    """Not there, or not for this person to see."""

    status = 404


class Conflict(LabError):
    """The thing is in a state that does not allow this, or somebody was faster."""

    status = 409


class Stale(LabError):
    """The caller saw an older version; `extra["current"]` holds the newer values."""

    status = 412


class TooLarge(LabError):
    status = 413


class UnsupportedType(LabError):
    status = 415


class RuleViolation(LabError):
    """Well-formed, but it breaks a rule of the method or of the lab."""

    status = 422


class PreconditionRequired(LabError):
    status = 428


class TooManyTries(LabError):
    status = 429
