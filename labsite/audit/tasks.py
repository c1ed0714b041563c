"""The worker's part in the history: sealing a digest, and verifying everything."""

from __future__ import annotations

import logging
from datetime import timedelta
from typing import Any

from labsite.audit.checking import JOB_KIND, as_result
from labsite.audit.digests import seal_digest
from labsite.audit.verification import verify
from labsite.jobs.kinds import job

logger = logging.getLogger(__name__)


@job("audit.digest")
def seal(run: Any) -> dict[str, Any]:
    digest = seal_digest()
    return {"digest": digest.number if digest else None}


@job(JOB_KIND, atomic=False, deadline=timedelta(hours=1))
def verify_history(run: Any) -> dict[str, Any]:
    result = verify()
    if not result.holds:
        first = result.findings[0]
        logger.error("the history does not hold: %s %s: %s", first.code, first.where, first.detail)
    return as_result(result)
