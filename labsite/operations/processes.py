"""What a child process needs so that it never outlives its parent (Linux)."""

from __future__ import annotations

import ctypes
import os
import signal
import subprocess
from collections.abc import Mapping, Sequence

_PR_SET_PDEATHSIG = 1
_libc = ctypes.CDLL(None, use_errno=True)


def end_with_parent(parent: int | None = None) -> None:
    """Have the kernel send SIGTERM to this process when its parent dies, even by SIGKILL."""
    if _libc.prctl(_PR_SET_PDEATHSIG, signal.SIGTERM, 0, 0, 0) != 0:
        raise OSError(ctypes.get_errno(), "prctl(PR_SET_PDEATHSIG) failed")
    if parent is not None and os.getppid() != parent:
        os.kill(os.getpid(), signal.SIGTERM)  # it died before the kernel was told


def start_child(command: Sequence[str], env: Mapping[str, str]) -> subprocess.Popen[bytes]:
    """Start a child in a session of its own, so that a terminal's Ctrl-C reaches us only."""
    parent = os.getpid()
    return subprocess.Popen(
        command,
        env=dict(env),
        stdin=subprocess.DEVNULL,
        start_new_session=True,
        preexec_fn=lambda: end_with_parent(parent),
    )


def signal_group(process: subprocess.Popen[bytes], number: signal.Signals) -> None:
    """Signal a child's whole session; silently nothing when all of it is gone."""
    try:
        os.killpg(process.pid, number)
    except ProcessLookupError:
        return
