"""The first use of manage.py: installs once per lock file, says what is missing, never twice."""

from __future__ import annotations

import importlib.util
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]
PIN = re.compile(r"^([A-Za-z0-9._-]+(?:\[[^\]]*\])?==[^ \\]+)", re.M)


@pytest.fixture
def manage(tmp_path, monkeypatch):
    """manage.py as a module of its own, with its environment and locks in a scratch folder."""
    spec = importlib.util.spec_from_file_location("manage_under_test", ROOT / "manage.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    venv = tmp_path / ".venv"
    monkeypatch.setattr(module, "VENV", venv)
    monkeypatch.setattr(module, "STAMP", venv / "installed-locks.json")
    for name, file in (("RUN_LOCK", "requirements.lock"), ("DEV_LOCK", "requirements-dev.lock")):
        (tmp_path / file).write_text(f"content of {file}")
        monkeypatch.setattr(module, name, tmp_path / file)
    monkeypatch.delenv("RESTHEIGHT_BOOTSTRAP", raising=False)
    return module


@pytest.fixture
def ran(manage, monkeypatch):
    """Commands that would have been run; the virtual environment appears when asked for."""
    commands = []

    def run(command):
        commands.append(command)
        if "venv" in command:
            (manage.VENV / "bin").mkdir(parents=True)

    monkeypatch.setattr(manage, "run", run)
    monkeypatch.setattr(manage, "works", lambda python, statement: manage.VENV.exists())
    return commands


def test_the_first_use_makes_the_environment_and_installs_with_hashes(manage, ran):
    python = manage.prepare(manage.RUN_LOCK)
    venv, pip = ran
    assert venv == [sys.executable, "-m", "venv", "--clear", str(manage.VENV)]
    assert pip[:4] == [str(python), "-m", "pip", "install"]
    assert "--require-hashes" in pip
    assert pip[-2:] == ["-r", str(manage.RUN_LOCK)]


def test_the_second_use_does_nothing(manage, ran):
    manage.prepare(manage.RUN_LOCK)
    ran.clear()
    manage.prepare(manage.RUN_LOCK)
    assert ran == []


def test_a_changed_lock_is_installed_into_the_same_environment(manage, ran):
    manage.prepare(manage.RUN_LOCK)
    ran.clear()
    manage.RUN_LOCK.write_text("another content")
    manage.prepare(manage.RUN_LOCK)
    assert [command[1:4] for command in ran] == [["-m", "pip", "install"]]


def test_the_development_lock_stands_for_both(manage, ran):
    manage.prepare(manage.DEV_LOCK)
    assert manage.lock_is_installed(manage.RUN_LOCK)


def test_the_run_lock_does_not_stand_for_the_development_lock(manage, ran):
    manage.prepare(manage.RUN_LOCK)
    assert not manage.lock_is_installed(manage.DEV_LOCK)


def test_a_failed_installation_is_not_remembered(manage, ran, monkeypatch):
    monkeypatch.setattr(manage, "install", lambda python, lock: manage.fail("no network"))
    with pytest.raises(SystemExit):
        manage.prepare(manage.RUN_LOCK)
    assert not manage.STAMP.exists()


def test_a_damaged_stamp_counts_as_none(manage):
    manage.VENV.mkdir()
    manage.STAMP.write_text("{")
    assert not manage.lock_is_installed(manage.RUN_LOCK)


def test_missing_python3_venv_is_named(manage, monkeypatch, capsys):
    monkeypatch.setattr(manage.importlib.util, "find_spec", lambda name: None)
    with pytest.raises(SystemExit) as stop:
        manage.make_venv()
    assert stop.value.code == 1
    assert "apt-get install python3-venv" in capsys.readouterr().err


def test_an_old_python_is_refused_by_its_version(manage, monkeypatch, capsys):
    monkeypatch.setattr(manage.sys, "version_info", (3, 9, 2, "final", 0))
    with pytest.raises(SystemExit):
        manage.main(["manage.py", "up"])
    assert "needs Python 3.11 or newer; this is Python 3.9.2" in capsys.readouterr().err


def test_manage_py_can_be_read_by_an_old_python():
    """Otherwise the message about the version would be a SyntaxError."""
    compile((ROOT / "manage.py").read_text(), "manage.py", "exec", dont_inherit=True)
    source = (ROOT / "manage.py").read_text()
    import ast

    ast.parse(source, feature_version=(3, 7))


def test_a_prepared_environment_is_left_alone(manage, monkeypatch):
    monkeypatch.setenv("RESTHEIGHT_BOOTSTRAP", "off")
    assert manage.environment_is_prepared()


def test_a_failing_step_says_that_nothing_was_started(manage, capsys):
    with pytest.raises(SystemExit):
        manage.run([sys.executable, "-c", "raise SystemExit(7)"])
    assert "status 7" in capsys.readouterr().err


def test_test_hands_its_arguments_to_pytest(manage, monkeypatch):
    started = []
    monkeypatch.setenv("RESTHEIGHT_BOOTSTRAP", "off")
    monkeypatch.setattr(manage.os, "execv", lambda path, argv: started.append(argv))
    monkeypatch.setattr(manage.os, "chdir", lambda folder: None)
    manage.run_tests(["-k", "floats"])
    assert started == [[sys.executable, "-m", "pytest", "-k", "floats"]]


@pytest.mark.parametrize(
    ("argv", "expected"),
    [(["up", "--demo"], "1"), (["up"], None), (["check", "--demo"], None)],
)
def test_demo_mode_is_set_before_the_settings_are_read(manage, monkeypatch, argv, expected):
    monkeypatch.setenv("RESTHEIGHT_BOOTSTRAP", "off")
    monkeypatch.setenv("RESTHEIGHT_DEMO", "")
    monkeypatch.delenv("RESTHEIGHT_DEMO")
    monkeypatch.setattr("django.core.management.execute_from_command_line", lambda argv: None)
    manage.main(["manage.py", *argv])
    assert os.environ.get("RESTHEIGHT_DEMO") == expected


def test_manage_py_needs_no_library_before_it_is_installed():
    done = subprocess.run(
        [
            sys.executable,
            "-I",
            "-S",
            "-c",
            f"import runpy; runpy.run_path({str(ROOT)!r} + '/manage.py')",
        ],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("name", ["requirements.lock", "requirements-dev.lock"])
def test_locks_pin_by_hash_and_hold_no_address(name):
    text = (ROOT / name).read_text()
    assert "://" not in text
    assert "--index" not in text
    assert "--find-links" not in text
    blocks = re.split(r"\n(?=[A-Za-z0-9])", text.strip())
    assert all(PIN.match(block) and "--hash=sha256:" in block for block in blocks)


def test_the_development_lock_holds_every_pin_of_the_run_lock():
    run, dev = (
        set(PIN.findall((ROOT / name).read_text()))
        for name in ("requirements.lock", "requirements-dev.lock")
    )
    assert run <= dev


def test_a_stamp_names_both_locks(manage, ran):
    manage.prepare(manage.DEV_LOCK)
    stamp = json.loads(manage.STAMP.read_text())
    assert stamp.keys() == {"requirements.lock", "requirements-dev.lock"}
