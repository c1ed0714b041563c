"""Jobs and the sign of life of the worker. The broker only carries ids; the truth is here."""

from __future__ import annotations

import json
import uuid
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class JobState(models.TextChoices):
    QUEUED = "queued", _("waiting")
    RUNNING = "running", _("running")
    DONE = "done", _("done")
    FAILED = "failed", _("failed")


class Job(models.Model):
    """One piece of work for the worker."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=80)
    # JSON text. A second job of the same kind with the same key is never made.
    args = models.TextField(default="{}")
    key = models.CharField(max_length=200, null=True, blank=True)  # noqa: DJ001
    state = models.CharField(
        max_length=10, choices=JobState.choices, default=JobState.QUEUED, editable=False
    )
    # None: the schedule asked for it.
    requested_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    attempts = models.PositiveSmallIntegerField(default=0)
    # Who holds the job while it runs, and until when; a lease that ran out frees it.
    lease = models.UUIDField(null=True)
    lease_expires_at = models.DateTimeField(null=True)
    heartbeat_at = models.DateTimeField(null=True)
    due_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True)
    created_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)
    result = models.TextField(blank=True)
    error = models.TextField(blank=True)

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "key"], name="job_key_once_per_kind"),
            models.CheckConstraint(
                condition=Q(state__in=JobState.values), name="job_state_is_known"
            ),
            models.CheckConstraint(
                condition=~Q(state="running")
                | Q(lease__isnull=False, lease_expires_at__isnull=False),
                name="job_running_has_a_lease",
            ),
        ]
        indexes = [models.Index(fields=["state", "due_at"], name="job_by_state_and_due")]

    def __str__(self) -> str:
        return f"{self.kind} ({self.state})"

    @property
    def arguments(self) -> dict[str, Any]:
        return json.loads(self.args)

    @property
    def outcome(self) -> Any:
        """What the work returned, or None before it is done."""
        return json.loads(self.result) if self.result else None


class WorkerHeartbeat(models.Model):
    """When a worker last carried out the tick: proof that beat, broker and worker all run."""

    name = models.CharField(max_length=120, primary_key=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name
