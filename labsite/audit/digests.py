"""The chained digest over all heads: what finds a removed object or a cut tail afterwards."""

from __future__ import annotations

import json

from django.db import transaction

from labsite.audit.models import GENESIS, AuditDigest, AuditHead, chain_hash
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.records import canonical_instant, canonical_json


def seal_digest(*, clock: Clock = SYSTEM_CLOCK) -> AuditDigest | None:
    """Append a digest of the heads that moved since the last one; None when none moved."""
    with transaction.atomic():
        moved = [
            head
            for head in AuditHead.objects.select_for_update().order_by("key")
            if head.sequence != head.digested_sequence
        ]
        if not moved:
            return None
        digest = _append(moved, clock)
        for head in moved:
            head.digested_sequence = head.sequence
        AuditHead.objects.bulk_update(moved, ["digested_sequence"], batch_size=500)
        return digest


def _append(moved: list[AuditHead], clock: Clock) -> AuditDigest:
    last = AuditDigest.objects.order_by("-number").first()
    number = last.number + 1 if last else 1
    previous = last.hash if last else GENESIS
    now = clock.now()
    body = canonical_json(
        {
            "schema": 1,
            "number": number,
            "at": canonical_instant(now),
            "heads": [[head.key, head.sequence, head.hash] for head in moved],
        }
    )
    return AuditDigest.objects.create(
        number=number, at=now, body=body, previous_hash=previous, hash=chain_hash(previous, body)
    )


def heads_in(digest: AuditDigest) -> list[tuple[str, int, str]]:
    return [tuple(head) for head in json.loads(digest.body)["heads"]]
