#!/usr/bin/env python3
"""Runs Restheight's commands, and sets up its own environment the first time.

    python3 manage.py up --demo     start the laboratory with invented data
    python3 manage.py test          run the everyday tests

Only the standard library is used here. Inside a prepared environment (a virtual
environment of your own, or RESTHEIGHT_BOOTSTRAP=off as in the container image) nothing
is installed.
"""

import fcntl
import hashlib
import importlib.util
import json
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
STAMP = VENV / "installed-locks.json"
RUN_LOCK = ROOT / "requirements.lock"
DEV_LOCK = ROOT / "requirements-dev.lock"
OLDEST_PYTHON = (3, 11)


def main(argv):
    refuse_old_python()
    testing = argv[1:2] == ["test"]
    if not environment_is_prepared():
        python = prepare(DEV_LOCK if testing else RUN_LOCK)
        if not running_in(VENV):
            restart_with(python, argv)
    if testing:
        run_tests(argv[2:])
    if argv[1:2] == ["up"] and "--demo" in argv:
        os.environ.setdefault("RESTHEIGHT_DEMO", "1")  # before the settings are read
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labsite.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(argv)


def refuse_old_python():
    if sys.version_info < OLDEST_PYTHON:
        wanted = ".".join(map(str, OLDEST_PYTHON))
        found = ".".join(map(str, sys.version_info[:3]))
        fail(f"Restheight needs Python {wanted} or newer; this is Python {found}.")


def environment_is_prepared():
    if os.environ.get("RESTHEIGHT_BOOTSTRAP") == "off":
        return True
    own_choice = sys.prefix != sys.base_prefix and not running_in(VENV)
    return own_choice and importlib.util.find_spec("django") is not None


def running_in(folder):
    return os.path.realpath(sys.prefix) == os.path.realpath(folder)


def prepare(lock):
    """Bring .venv in line with the lock file; return its interpreter."""
    if lock_is_installed(lock):
        return VENV / "bin" / "python"
    with open(lock, "rb") as held:
        fcntl.flock(held, fcntl.LOCK_EX)  # two first runs at once: the second one waits
        if not lock_is_installed(lock):
            python = make_venv()
            install(python, lock)
            write_stamp(lock)
    return VENV / "bin" / "python"


def lock_is_installed(lock):
    try:
        installed = json.loads(STAMP.read_text())
    except (OSError, ValueError):
        return False
    return installed.get(lock.name) == digest(lock)


def digest(lock):
    return hashlib.sha256(lock.read_bytes()).hexdigest()


def write_stamp(lock):
    # The development lock holds every pin of the run lock, so it stands for both.
    locks = {RUN_LOCK, lock}
    unfinished = STAMP.with_suffix(".part")
    unfinished.write_text(json.dumps({each.name: digest(each) for each in locks}))
    unfinished.replace(STAMP)


def make_venv():
    python = VENV / "bin" / "python"
    if works(python, "import pip"):
        return python
    if importlib.util.find_spec("ensurepip") is None:
        fail(
            "Python cannot make a virtual environment here: the package python3-venv is missing.\n"
            "Install it, then run the same line again:  sudo apt-get install python3-venv"
        )
    say("Setting up Restheight's environment in .venv (once) ...")
    run([sys.executable, "-m", "venv", "--clear", str(VENV)])
    return python


def works(python, statement):
    try:
        done = subprocess.run([str(python), "-c", statement], capture_output=True)
    except OSError:
        return False
    return done.returncode == 0


def install(python, lock):
    say(f"Installing the libraries of {lock.name} ...")
    options = ["--require-hashes", "--quiet", "--no-input", "--disable-pip-version-check"]
    run([str(python), "-m", "pip", "install", *options, "-r", str(lock)])


def run(command):
    status = subprocess.call(command)
    if status:
        fail(
            f"This step failed (status {status}): {' '.join(command)}\n"
            "The message above says why. Nothing was started; the same line can be run again."
        )


def restart_with(python, argv):
    os.execv(python, [str(python), str(ROOT / "manage.py"), *argv[1:]])


def run_tests(arguments):
    """The whole everyday suite on two processes; a part of it, as asked."""
    os.chdir(ROOT)
    arguments = arguments or ["-q", "-n", "2", "--dist", "loadfile"]
    os.execv(sys.executable, [sys.executable, "-m", "pytest", *arguments])


def say(text):
    print(text, file=sys.stderr, flush=True)


def fail(text):
    say(text)
    sys.exit(1)


if __name__ == "__main__":
    main(sys.argv)
