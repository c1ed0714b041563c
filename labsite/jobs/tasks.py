"""The two Celery tasks: run one job, and the tick of the beat."""

from __future__ import annotations

import uuid
from typing import Any

from celery import shared_task

from labsite.jobs import services
from labsite.jobs.runner import run_job

TICK_TASK = "labsite.jobs.tick"


@shared_task(name=services.RUN_TASK, ignore_result=True)
def run(job_id: str) -> None:
    run_job(uuid.UUID(job_id))


@shared_task(name=TICK_TASK, bind=True, ignore_result=True)
def tick(task: Any, schedule: dict[str, float]) -> None:
    """Sign of life, jobs that are due by the schedule, and jobs to send again."""
    services.record_heartbeat(task.request.hostname or "worker")
    services.enqueue_due(schedule)
    services.sweep()
