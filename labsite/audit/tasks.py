"""The worker's part in the history: sealing a digest, and verifying everything."""

from __future__ import annotations

import logging
from dataclasses import asdict
from datetime import timedelta
from typing import Any

from labsite.audit.digests import seal_digest
from labsite.audit.verification import verify
from labsite.jobs.kinds import job

logger = logging.getLogger(__name__)

FINDINGS_KEPT = 50


@job("audit.digest")
def seal(run: Any) -> dict[str, Any]:
    digest = seal_digest()
    return {"digest": digest.number if digest else None}


@job("audit.verify", atomic=False, deadline=timedelta(hours=1))
def verify_history(run: Any) -> dict[str, Any]:
    result = verify()
    if not result.holds:
        first = result.findings[0]
        logger.error("the history does not hold: %s %s: %s", first.code, first.where, first.detail)
    return {
        "holds": result.holds,
        "entries": result.entries,
        "objects": result.objects,
        "rows": result.rows,
        "digests": result.digests,
        "findings": [asdict(finding) for finding in result.findings[:FINDINGS_KEPT]],
        "findings_in_all": len(result.findings),
    }
