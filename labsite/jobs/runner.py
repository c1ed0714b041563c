"""Running one job: take it, keep its lease alive, do the work, keep the answer."""

from __future__ import annotations

import logging
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from datetime import timedelta
from typing import Any

from django.db import connection, transaction

from labsite.errors import LabError
from labsite.jobs import services
from labsite.jobs.kinds import Kind, kind_of
from labsite.jobs.models import Job

logger = logging.getLogger(__name__)

HEARTBEAT_EVERY = services.LEASE / 4


class DeadlinePassed(Exception):
    """The work takes longer than its kind allows."""


class LeaseLost(Exception):
    """Another worker has taken the job; what was done here is rolled back."""


class Run:
    """One attempt at a job, handed to its work as the first argument."""

    def __init__(self, job: Job, deadline: timedelta) -> None:
        self.job = job
        self.actor = job.requested_by
        self._ends = time.monotonic() + deadline.total_seconds()

    @property
    def is_overdue(self) -> bool:
        return time.monotonic() > self._ends

    def check_deadline(self) -> None:
        """Raise DeadlinePassed when the time is over; call it inside long loops."""
        if self.is_overdue:
            raise DeadlinePassed(f"{self.job.kind} took longer than it may")


def run_job(job_id: uuid.UUID) -> Job | None:
    """Run the job unless it is done or held by another; return it, or None when not taken."""
    job = services.claim(job_id)
    if job is None:
        return None
    try:
        kind = kind_of(job.kind)
        run = Run(job, kind.deadline)
        with kept_alive(run):
            _work(kind, run)
    except LeaseLost:
        logger.warning("job %s (%s) was taken over by another worker", job.pk, job.kind)
    except LabError as error:
        services.fail(job, f"{error.code}: {error.message}", again=False)
    except Exception as error:  # outermost handler: whatever the work raises is the answer
        logger.exception("job %s (%s) failed", job.pk, job.kind)
        services.fail(job, f"{type(error).__name__}: {error}", again=True)
    job.refresh_from_db()
    return job


def _work(kind: Kind, run: Run) -> None:
    with transaction.atomic() if kind.atomic else nullcontext():
        result = kind.work(run, **run.job.arguments)
        if not services.finish(run.job, result):
            raise LeaseLost


@contextmanager
def kept_alive(run: Run, every: timedelta = HEARTBEAT_EVERY) -> Iterator[None]:
    """Extend the lease from a thread of its own until the work ends or its time is over."""
    over = threading.Event()
    thread = threading.Thread(target=_keep_alive, args=(run, over, every), daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def _keep_alive(run: Run, over: threading.Event, every: timedelta) -> None:
    try:
        while not over.wait(every.total_seconds()) and not run.is_overdue:
            _extend_once(run)
    finally:
        connection.close()


def _extend_once(run: Run) -> Any:
    try:
        return services.extend_lease(run.job)
    except Exception:  # a busy database: the lease outlives three missed beats
        logger.exception("could not extend the lease of job %s", run.job.pk)
        return None
