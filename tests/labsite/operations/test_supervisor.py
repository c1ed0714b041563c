"""Stopping ends everything, a killed supervisor leaves no orphan, a crash loop ends with a word."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from labsite.operations import supervisor
from labsite.operations.supervisor import Child, Supervisor

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[3]
# Each child writes its number and that of a grandchild, then waits for ever.
CHILD = """
import os, subprocess, sys, time
grandchild = subprocess.Popen(["sleep", "600"])
with open(sys.argv[1] + ".part", "w") as file:
    file.write(f"{os.getpid()} {grandchild.pid}")
os.replace(sys.argv[1] + ".part", sys.argv[1])
import signal
def end(*_):
    grandchild.terminate()
    sys.exit(0)
signal.signal(signal.SIGTERM, end)
time.sleep(600)
"""
PARENT = """
import sys
from labsite.operations.supervisor import Child, Supervisor
children = [Child(name, [sys.executable, "-c", sys.argv[1], name]) for name in sys.argv[2:]]
sys.exit(Supervisor(children, say=lambda text: print(text, flush=True)).run())
"""


def is_alive(pid):
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


def wait_until(condition, within_s=15.0):
    ends = time.monotonic() + within_s
    while time.monotonic() < ends:
        if condition():
            return True
        time.sleep(0.05)
    return condition()


class Running:
    """A supervisor in a process of its own, with two children that have a child each."""

    def __init__(self, folder):
        self.files = [folder / "one", folder / "two"]
        self.process = subprocess.Popen(
            [sys.executable, "-c", PARENT, CHILD, *map(str, self.files)],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert wait_until(lambda: all(file.exists() for file in self.files))

    def pids(self):
        return [int(pid) for file in self.files for pid in file.read_text().split()]


@pytest.fixture
def running(tmp_path):
    started = Running(tmp_path)
    pids = started.pids()
    yield started
    started.process.kill()
    started.process.communicate()
    for pid in {*pids, *started.pids()}:
        if is_alive(pid):
            os.kill(pid, signal.SIGKILL)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_a_signal_ends_all_and_the_status_is_0(running, number):
    pids = running.pids()
    assert all(map(is_alive, pids))
    running.process.send_signal(number)
    assert running.process.wait(15) == 0
    assert not any(map(is_alive, pids))


def test_a_killed_supervisor_leaves_no_orphan(running):
    pids = running.pids()
    running.process.kill()
    running.process.wait()
    assert wait_until(lambda: not any(map(is_alive, pids)))


def test_a_killed_child_comes_back_and_its_own_children_go(running):
    child, grandchild = running.pids()[:2]
    running.files[0].unlink()
    os.kill(child, signal.SIGKILL)
    assert wait_until(running.files[0].exists)
    assert not is_alive(grandchild)
    again, _ = running.pids()[:2]
    assert again != child
    assert is_alive(again)
    assert running.process.poll() is None


def test_a_crash_loop_stops_everything_with_status_1(monkeypatch, tmp_path):
    monkeypatch.setattr(supervisor, "LOOK_EVERY_S", 0.01)
    monkeypatch.setattr(supervisor, "FIRST_PAUSE_S", 0.01)
    said = []
    steady = Child("steady", ["sleep", "600"])
    broken = Child("broken", [sys.executable, "-c", "raise SystemExit(3)"])
    handlers = {number: signal.getsignal(number) for number in supervisor.STOP_SIGNALS}
    try:
        status = Supervisor([steady, broken], say=said.append).run()
    finally:
        for number, handler in handlers.items():
            signal.signal(number, handler)
    assert status == 1
    assert said[0] == "broken ended (status 3); starting it again."
    assert said[-1] == "broken ended 6 times within a minute. Stopping."
    assert not steady.is_running


def test_what_ignores_the_request_is_forced(monkeypatch):
    monkeypatch.setattr(supervisor, "GRACE_S", 0.3)
    stubborn = Child(
        "stubborn",
        [
            sys.executable,
            "-c",
            "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN);"
            "print('deaf', flush=True); time.sleep(600)",
        ],
    )
    said = []
    guard = Supervisor([stubborn], say=said.append)
    guard._look_after(stubborn)
    time.sleep(0.5)  # until it has turned deaf
    guard.stop()
    assert stubborn.process.returncode == -signal.SIGKILL
    assert said == ["stubborn did not end within 0 s; forcing it."]
