"""What makes a repeated POST harmless."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class IdempotencyRecord(models.Model):
    """The answer that a person's POST with this key was given; a replay is given it again."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    key = models.CharField(max_length=128)
    request_hash = models.CharField(max_length=64)
    answer = models.TextField()
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["user", "key"], name="idempotency_key_once")]

    def __str__(self) -> str:
        return f"{self.user} {self.key}"
