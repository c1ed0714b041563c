"""What pages and health checks ask about jobs and the worker."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db.models import Max

from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.jobs.models import WorkerHeartbeat


@dataclass(frozen=True)
class WorkerLife:
    """Whether a worker gave a sign of life lately, and when the last one came (None: never)."""

    is_alive: bool
    last_at: datetime | None


def worker_life(*, clock: Clock = SYSTEM_CLOCK) -> WorkerLife:
    last = WorkerHeartbeat.objects.aggregate(last=Max("at"))["last"]
    patience = timedelta(seconds=settings.WORKER_SILENT_AFTER_SECONDS)
    return WorkerLife(last is not None and clock.now() - last <= patience, last)
