"""A signed-in person who is refused an action leaves an entry: who tried what, and where."""

from __future__ import annotations

import logging
from typing import Any

from django.db import DatabaseError

from labsite.accounts import audit_actions as actions
from labsite.audit.services import change
from labsite.errors import NotPermitted

logger = logging.getLogger(__name__)

LONGEST_PATH = 300


def note_refusal(request: Any, error: Exception) -> None:
    """Called by the one place of each door where errors leave; never hides the refusal itself."""
    person = getattr(request, "user", None)
    if not isinstance(error, NotPermitted) or person is None or not person.is_authenticated:
        return
    told = {"code": error.code, "method": request.method, "path": request.path[:LONGEST_PATH]}
    try:
        with change(actor=person) as log:
            log.note(person, actions.ACTION_REFUSED, new=told)
    except DatabaseError:
        logger.exception("a refusal could not be noted: %s", told)
