"""Queueing, taking, finishing and recovering jobs."""

from __future__ import annotations

import json
import logging
import uuid
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from celery import current_app
from django.db import transaction
from django.db.models import F, Q

from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.jobs.kinds import kind_of
from labsite.jobs.models import Job, JobState, WorkerHeartbeat

logger = logging.getLogger(__name__)

RUN_TASK = "labsite.jobs.run"
LEASE = timedelta(seconds=60)
RESEND_AFTER = timedelta(seconds=60)
RETRY_AFTER = timedelta(seconds=30)
SWEEP_BATCH = 200
EPOCH = datetime(2000, 1, 1, tzinfo=UTC)


def enqueue(
    kind: str, *, actor: Any, key: str | None = None, clock: Clock = SYSTEM_CLOCK, **args: Any
) -> Job:
    """Queue a job in the caller's transaction and send it once that has committed.

    `actor` is the person who asked, or None for the schedule. With `key`, a job of this kind and
    key is made once only: a later call returns the first one, whatever its state. Raises KeyError
    for an unknown kind and TypeError for arguments that JSON cannot hold.
    """
    now = clock.now()
    job = Job(
        kind=kind_of(kind).code,
        args=json.dumps(args, sort_keys=True),
        key=key,
        requested_by=actor,
        created_at=now,
        due_at=now,
    )
    if key is None:
        job.save(force_insert=True)
    else:
        job, made = Job.objects.get_or_create(kind=kind, key=key, defaults=_insert_values(job))
        if not made:
            return job
    _send_on_commit(job.pk)
    return job


def _insert_values(job: Job) -> dict[str, Any]:
    names = ("id", "args", "requested_by", "created_at", "due_at")
    return {name: getattr(job, name) for name in names}


def _send_on_commit(job_id: uuid.UUID) -> None:
    # robust: a broker that is down is logged and must not break the request; the sweep of the
    # next tick sends the job again.
    transaction.on_commit(lambda: send(job_id), robust=True)


def send(job_id: uuid.UUID, *, clock: Clock = SYSTEM_CLOCK) -> None:
    """Give the job's id to the broker. Raises what the broker raises."""
    current_app.send_task(RUN_TASK, args=[str(job_id)], retry=False, ignore_result=True)
    Job.objects.filter(pk=job_id).update(sent_at=clock.now())


def claim(job_id: uuid.UUID, *, clock: Clock = SYSTEM_CLOCK) -> Job | None:
    """Take the job for this worker, or None when it is done, not due or held by another."""
    now = clock.now()
    free = Q(state=JobState.QUEUED, due_at__lte=now) | Q(
        state=JobState.RUNNING, lease_expires_at__lt=now
    )
    lease = uuid.uuid4()
    taken = Job.objects.filter(free, pk=job_id).update(
        state=JobState.RUNNING,
        lease=lease,
        lease_expires_at=now + LEASE,
        heartbeat_at=now,
        attempts=F("attempts") + 1,
        started_at=now,
    )
    return Job.objects.get(pk=job_id) if taken else None


def _held(job: Job) -> Any:
    return Job.objects.filter(pk=job.pk, state=JobState.RUNNING, lease=job.lease)


def extend_lease(job: Job, *, clock: Clock = SYSTEM_CLOCK) -> bool:
    """Say that the job is alive; False when its lease has gone to another worker."""
    now = clock.now()
    return bool(_held(job).update(heartbeat_at=now, lease_expires_at=now + LEASE))


def finish(job: Job, result: Any, *, clock: Clock = SYSTEM_CLOCK) -> bool:
    """Mark the job done; False when its lease has gone to another worker."""
    return bool(
        _held(job).update(
            state=JobState.DONE,
            result=json.dumps(result),
            error="",
            finished_at=clock.now(),
            lease=None,
            lease_expires_at=None,
        )
    )


def fail(job: Job, error: str, *, again: bool, clock: Clock = SYSTEM_CLOCK) -> bool:
    """Keep the error; queue the job again while `again` and it has attempts left."""
    now = clock.now()
    retry = again and job.attempts < kind_of(job.kind).attempts
    return bool(
        _held(job).update(
            state=JobState.QUEUED if retry else JobState.FAILED,
            error=error[:4000],
            due_at=now + RETRY_AFTER * job.attempts,
            sent_at=None,
            finished_at=None if retry else now,
            lease=None,
            lease_expires_at=None,
        )
    )


def sweep(*, clock: Clock = SYSTEM_CLOCK) -> int:
    """Send again what is due and was not taken, and what a lost worker held; return how many."""
    now = clock.now()
    waiting = Q(state=JobState.QUEUED, due_at__lte=now) & (
        Q(sent_at__isnull=True) | Q(sent_at__lt=now - RESEND_AFTER)
    )
    lost = Q(state=JobState.RUNNING, lease_expires_at__lt=now)
    sent = 0
    for job in Job.objects.filter(waiting | lost).order_by("due_at")[:SWEEP_BATCH]:
        if job.state == JobState.RUNNING and _gave_up(job, clock):
            continue
        send(job.pk, clock=clock)
        sent += 1
    return sent


def _gave_up(job: Job, clock: Clock) -> bool:
    """Fail a job that has cost its last attempt a worker, so that it does not cost another."""
    if job.attempts < kind_of(job.kind).attempts:
        return False
    message = f"stopped without an answer {job.attempts} times; not tried again"
    return fail(job, message, again=False, clock=clock)


def enqueue_due(schedule: Mapping[str, float], *, clock: Clock = SYSTEM_CLOCK) -> list[Job]:
    """Queue each scheduled kind once per period (seconds), however often this is called.

    The period's number is the job's key, so two beats, a late one or a clock set back add
    nothing, and after an outage the current period is caught up at once.
    """
    now = clock.now()
    return [
        enqueue(kind, actor=None, key=_period_key(now, seconds), clock=clock)
        for kind, seconds in schedule.items()
    ]


def _period_key(now: datetime, seconds: float) -> str:
    period = timedelta(seconds=seconds)
    return (EPOCH + (now - EPOCH) // period * period).isoformat()


def record_heartbeat(name: str, *, clock: Clock = SYSTEM_CLOCK) -> None:
    WorkerHeartbeat.objects.update_or_create(name=name, defaults={"at": clock.now()})
