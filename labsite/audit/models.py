"""The history: entries chained per object, the heads of those chains, digests over the heads."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from django.conf import settings
from django.db import models

GENESIS = "0" * 64


class AppendOnlyQuerySet(models.QuerySet):
    def update(self, **kwargs: Any) -> int:
        raise TypeError("entries of the history are never changed")

    def delete(self) -> tuple[int, dict[str, int]]:
        raise TypeError("entries of the history are never deleted")


class AppendOnly(models.Model):
    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.pk and not self._state.adding:
            raise TypeError("entries of the history are never changed")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("entries of the history are never deleted")


def chain_hash(previous_hash: str, body: str) -> str:
    """SHA-256 over a domain byte, the previous hash and the stored canonical text."""
    return hashlib.sha256(b"\x00" + bytes.fromhex(previous_hash) + body.encode()).hexdigest()


class AuditEntry(AppendOnly):
    """One thing that happened to one object: `body` is the truth, the columns repeat it."""

    object_type = models.CharField(max_length=60)
    object_id = models.UUIDField()
    object_label = models.CharField(max_length=200)
    sequence = models.PositiveIntegerField()
    at = models.DateTimeField(db_index=True)
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    actor_name = models.CharField(max_length=120)
    action = models.CharField(max_length=80, db_index=True)
    reason = models.TextField(blank=True)
    body = models.TextField()
    previous_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["object_type", "object_id", "sequence"], name="entry_sequence_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.object_type} {self.object_label} #{self.sequence} {self.action}"

    @property
    def facts(self) -> dict[str, Any]:
        return json.loads(self.body)


class AuditHead(models.Model):
    """The last entry of one object's chain; locked last in each transaction."""

    key = models.CharField(max_length=100, primary_key=True)  # "type:uuid"
    sequence = models.PositiveIntegerField()
    hash = models.CharField(max_length=64)
    digested_sequence = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.key} #{self.sequence}"


class AuditDigest(AppendOnly):
    """A chained digest: the heads that moved since the digest before it, and their hashes."""

    number = models.PositiveIntegerField(unique=True)
    at = models.DateTimeField()
    body = models.TextField()
    previous_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["-number"]

    def __str__(self) -> str:
        return f"digest {self.number}"
