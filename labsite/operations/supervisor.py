"""Keeps a few child processes running until it is told to stop.

A child that ends is started again after a pause; one that keeps ending stops everything, because
a crash loop hides its cause. Children end with the supervisor, however it ends.
"""

from __future__ import annotations

import os
import signal
import subprocess
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from labsite.operations.processes import signal_group, start_child

CRASHES_ALLOWED = 5
CRASH_WINDOW_S = 60.0
GRACE_S = 10.0
LOOK_EVERY_S = 0.2
FIRST_PAUSE_S = 0.5
STOP_SIGNALS = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)


@dataclass
class Child:
    """One supervised command: `name` is what messages call it."""

    name: str
    command: Sequence[str]
    process: subprocess.Popen[bytes] | None = None
    restart_at: float = 0.0
    crashes: deque[float] = field(default_factory=deque)

    @property
    def is_running(self) -> bool:
        return self.process is not None and self.process.poll() is None


class Supervisor:
    def __init__(
        self,
        children: Sequence[Child],
        *,
        say: Callable[[str], None],
        on_tick: Callable[[], None] = lambda: None,
    ) -> None:
        self.children = children
        self.say = say
        self.on_tick = on_tick
        self.stopping = False
        self.failed = False

    def run(self) -> int:
        """Run until SIGTERM, SIGINT or SIGHUP; return 0, or 1 after a crash loop."""
        for number in STOP_SIGNALS:
            signal.signal(number, self._ask_to_stop)
        try:
            while not self.stopping:
                for child in self.children:
                    self._look_after(child)
                self.on_tick()
                time.sleep(LOOK_EVERY_S)
        finally:
            self.stop()
        return 1 if self.failed else 0

    def _ask_to_stop(self, *_args: object) -> None:
        self.stopping = True

    def _look_after(self, child: Child) -> None:
        if child.is_running or self.stopping:
            return
        now = time.monotonic()
        if child.process is not None:
            self._note_crash(child, now)
        elif now >= child.restart_at:
            child.process = start_child(child.command, os.environ)

    def _note_crash(self, child: Child, now: float) -> None:
        status = child.process.returncode
        signal_group(child.process, signal.SIGKILL)  # what it may have left behind
        child.process = None
        child.crashes.append(now)
        while child.crashes[0] < now - CRASH_WINDOW_S:
            child.crashes.popleft()
        if len(child.crashes) > CRASHES_ALLOWED:
            self.say(f"{child.name} ended {len(child.crashes)} times within a minute. Stopping.")
            self.failed = self.stopping = True
            return
        child.restart_at = now + FIRST_PAUSE_S * 2 ** (len(child.crashes) - 1)
        self.say(f"{child.name} ended (status {status}); starting it again.")

    def stop(self) -> None:
        """Ask all children to end, wait, then force what is left."""
        running = [child for child in self.children if child.is_running]
        for child in running:
            child.process.terminate()
        ends = time.monotonic() + GRACE_S
        for child in running:
            try:
                child.process.wait(max(0.0, ends - time.monotonic()))
            except subprocess.TimeoutExpired:
                self.say(f"{child.name} did not end within {GRACE_S:.0f} s; forcing it.")
        for child in self.children:
            if child.process is not None:
                signal_group(child.process, signal.SIGKILL)
                child.process.wait()
