"""Lots."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from labsite.records import LabRecord
from samples.models.grades import Grade


class Lot(LabRecord):
    """A batch of product whose density is asked for. Its code is stored trimmed, in capitals."""

    code = models.CharField(_("lot"), max_length=40, unique=True)
    grade = models.ForeignKey(Grade, on_delete=models.PROTECT, related_name="lots")
    received_at = models.DateTimeField(_("received"))
    registered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    note = models.TextField(_("note"), blank=True)

    class Meta:
        ordering = ["-received_at"]

    def __str__(self) -> str:
        return self.code

    @property
    def tail(self) -> str:
        """The last four characters: what is written beside a piece in the drawn column."""
        return self.code[-4:]
