"""What happens after too many wrong passwords."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.utils.translation import gettext as _

from labsite.errors import TooManyTries


def refuse(request: Any, response: Any = None, credentials: Any = None, *args: Any) -> None:
    """Called by the lockout library; the error middleware turns the error into page or JSON."""
    minutes = int(settings.AXES_COOLOFF_TIME.total_seconds() // 60)
    raise TooManyTries(
        "too_many_tries",
        _(
            "Too many wrong passwords for this name. Wait %(minutes)d minutes, "
            "or ask the administrator for a new password."
        )
        % {"minutes": minutes},
    )
