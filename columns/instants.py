"""How an instant is told in a sentence: lab time, with the day."""

from __future__ import annotations

from datetime import datetime

from django.utils.formats import date_format
from django.utils.timezone import localtime


def told(at: datetime) -> str:
    """Such as "7 Oct, 07:05"."""
    return date_format(localtime(at), "j M, H:i")


def told_in_full(at: datetime) -> str:
    """Such as "7 Oct 2026, 07:05": where the year may be what is wrong."""
    return date_format(localtime(at), "j M Y, H:i")
