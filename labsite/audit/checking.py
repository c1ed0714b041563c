"""Having the history verified: on request by a person, and the result that was found last."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.audit_actions import HISTORY_VERIFIED
from labsite.audit.models import AuditEntry
from labsite.audit.services import change
from labsite.audit.verification import Verification, verify
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.jobs.models import Job, JobState
from labsite.records import canonical_instant

FINDINGS_KEPT = 50
JOB_KIND = "audit.verify"


def as_result(result: Verification) -> dict[str, Any]:
    """What is shown and kept of a verification; `findings_in_all` counts those not listed too."""
    return {
        "holds": result.holds,
        "entries": result.entries,
        "objects": result.objects,
        "rows": result.rows,
        "digests": result.digests,
        "findings": [asdict(finding) for finding in result.findings[:FINDINGS_KEPT]],
        "findings_in_all": len(result.findings),
    }


def verify_history(*, actor: Any, clock: Clock = SYSTEM_CLOCK) -> dict[str, Any]:
    """Verify everything now and note on the actor that, and with which result, it was done."""
    require(actor, Action.VERIFY_HISTORY)
    result = as_result(verify())
    with change(actor=actor, clock=clock) as log:
        log.note(actor, HISTORY_VERIFIED, new=result)
    return {**result, "at": canonical_instant(log.now), "by": str(actor)}


def last_result() -> dict[str, Any] | None:
    """The newest result, a person's or the worker's; None when it was never verified."""
    found = [result for result in (_of_people(), _of_worker()) if result]
    return max(found, key=lambda result: result["at"], default=None)


def _of_people() -> dict[str, Any] | None:
    entry = AuditEntry.objects.filter(action=HISTORY_VERIFIED).order_by("-id").first()
    if entry is None:
        return None
    return {**entry.facts["noted"], "at": canonical_instant(entry.at), "by": entry.actor_name}


def _of_worker() -> dict[str, Any] | None:
    done = Job.objects.filter(kind=JOB_KIND, state=JobState.DONE).order_by("-finished_at").first()
    if done is None:
        return None
    return {**done.outcome, "at": canonical_instant(done.finished_at), "by": None}
