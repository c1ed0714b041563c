"""What is known of the request in which a change happens: added to entries, never required."""

from __future__ import annotations

from contextvars import ContextVar
from datetime import datetime

request_id: ContextVar[str] = ContextVar("request_id", default="")
device_time: ContextVar[datetime | None] = ContextVar("device_time", default=None)
