"""The embedded broker: messages are files in a folder, safe against half-written ones.

kombu's own file-system transport creates a message's file and fills it afterwards, so that a
reader can take it empty. Here a message or a queue table gets its name only when it is complete,
a reader owns a message by removing its file, and a file that cannot be read is put aside instead
of ending the worker. What a killed worker had taken is lost here; the job table sends it again.
"""

from __future__ import annotations

import fcntl
import logging
import os
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from queue import Empty
from typing import Any

from kombu.exceptions import ChannelError
from kombu.transport import TRANSPORT_ALIASES, filesystem, virtual
from kombu.utils.encoding import bytes_to_str, str_to_bytes
from kombu.utils.json import dumps, loads

logger = logging.getLogger(__name__)

ALIAS = "safefs"
UNREADABLE = "unreadable"


def register() -> None:
    """Make `safefs://` a broker address."""
    TRANSPORT_ALIASES[ALIAS] = f"{__name__}:Transport"


def options_for(broker_url: str, folder: Path) -> dict[str, Any]:
    """The transport options for this broker; the embedded one lives in `folder`."""
    if broker_url.startswith(ALIAS):
        return {**folder_options(folder), "polling_interval": 0.1}
    return {
        # An unanswered message comes back after this; longer than any job's deadline.
        "visibility_timeout": 7200,
        "unacked_restore_throttle": 1,
        # A broker that is down costs a request little: the sweep sends the job later.
        "max_retries": 1,
        "interval_start": 0,
        "socket_connect_timeout": 2,
        "socket_timeout": 10,
    }


def folder_options(folder: Path) -> dict[str, str]:
    """Make the broker's folders under `folder`; return the transport's options for them."""
    messages, tables = folder / "messages", folder / "queues"
    for path in (messages, tables, messages / UNREADABLE):
        path.mkdir(mode=0o700, parents=True, exist_ok=True)
    return {
        "data_folder_in": str(messages),
        "data_folder_out": str(messages),
        "control_folder": str(tables),
    }


class Channel(filesystem.Channel):
    def _put(self, queue: str, payload: Any, **kwargs: Any) -> None:
        # Fixed width: names sort in the order of sending.
        name = f"{time.time_ns():020d}_{uuid.uuid4().hex}.{queue}.msg"
        _write_whole(Path(self.data_folder_out) / name, payload)

    def _get(self, queue: str) -> Any:
        for path in self._waiting(queue):
            payload = self._take(path)
            if payload is not None:
                return payload
        raise Empty

    def _waiting(self, queue: str) -> list[Path]:
        folder = Path(self.data_folder_in)
        ending = f"{queue}.msg"
        return [
            folder / name for name in sorted(os.listdir(folder)) if name.partition(".")[2] == ending
        ]

    def _take(self, path: Path) -> Any | None:
        """The message in `path`, or None when another reader has it or nobody can read it."""
        try:
            content = path.read_bytes()
            payload = loads(bytes_to_str(content))
        except FileNotFoundError:
            return None
        except (ValueError, OSError) as error:
            _put_aside(path, error)
            return None
        try:
            path.unlink()
        except FileNotFoundError:
            return None
        return payload

    def get_table(self, exchange: str) -> list[Any]:
        file = self._exchange_file(exchange)
        try:
            rows = loads(file.read_text(encoding="utf-8"))
            return [filesystem.exchange_queue_t(*row) for row in rows]
        except FileNotFoundError:
            return []
        except (ValueError, TypeError) as error:
            _put_aside(file, error)  # the worker's next start declares its queues again
            return []

    def _queue_bind(self, exchange: str, routing_key: str, pattern: str, queue: str) -> None:
        entry = filesystem.exchange_queue_t(routing_key or "", pattern or "", queue or "")
        with self._table_locked():
            rows = self.get_table(exchange)
            if entry not in rows:
                _write_whole(self._exchange_file(exchange), [entry, *rows])

    def _delete(self, queue: str, exchange: str, routing_key: str, pattern: str, *args, **kwargs):
        virtual.Channel._delete(self, queue, exchange, routing_key, pattern, *args, **kwargs)
        entry = filesystem.exchange_queue_t(routing_key or "", pattern or "", queue or "")
        with self._table_locked():
            rows = self.get_table(exchange)
            if entry in rows:
                rows.remove(entry)
                _write_whole(self._exchange_file(exchange), rows)

    @contextmanager
    def _table_locked(self) -> Iterator[None]:
        with open(Path(self.control_folder) / "lock", "a") as held:
            fcntl.flock(held, fcntl.LOCK_EX)
            yield


def _write_whole(path: Path, content: Any) -> None:
    unfinished = path.with_name(f"{path.name}.{uuid.uuid4().hex}.part")
    try:
        unfinished.write_bytes(str_to_bytes(dumps(content)))
        os.replace(unfinished, path)
    except OSError as error:
        unfinished.unlink(missing_ok=True)
        raise ChannelError(f"Cannot write {path}: {error}") from error


def _put_aside(path: Path, error: Exception) -> None:
    place = path.parent / UNREADABLE
    place.mkdir(exist_ok=True)
    try:
        os.replace(path, place / path.name)
    except FileNotFoundError:
        return
    logger.error("unreadable broker file put aside as %s: %s", place / path.name, error)


class Transport(filesystem.Transport):
    Channel = Channel
    # An own state: the class attribute would be shared with every other file-system transport.
    global_state = virtual.BrokerState()
    driver_type = ALIAS
    driver_name = ALIAS
