"""Jobs of the columns."""

from __future__ import annotations

from typing import Any

from columns.services.drift import flag_end_floats
from labsite.accounts.services import system_user
from labsite.jobs.kinds import job


@job("columns.flag_drift")
def flag_drift(run: Any) -> dict[str, int]:
    """Flag columns whose end floats near the readable limits."""
    return flag_end_floats(actor=system_user())
