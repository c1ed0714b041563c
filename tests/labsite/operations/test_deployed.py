"""The commands of docker-compose.yml on a real PostgreSQL and Redis, without containers."""

from __future__ import annotations

import os
import re
import secrets
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import psycopg
import pytest
import yaml

pytestmark = [pytest.mark.slow, pytest.mark.postgres, pytest.mark.redis]

ROOT = Path(__file__).resolve().parents[3]
POSTGRES_URL = os.environ.get("TEST_POSTGRES_URL", "")
REDIS_URL = os.environ.get("TEST_REDIS_URL", "")
DATABASE = f"restheight_test_deployed_{os.getpid()}"


@pytest.fixture
def database():
    if not (POSTGRES_URL and REDIS_URL):
        pytest.skip("TEST_POSTGRES_URL and TEST_REDIS_URL name no servers")
    server = POSTGRES_URL.rpartition("/")[0]

    def admin(statement):
        with psycopg.connect(f"{server}/postgres", autocommit=True) as connection:
            connection.execute(statement)

    admin(f"DROP DATABASE IF EXISTS {DATABASE} WITH (FORCE)")
    admin(f"CREATE DATABASE {DATABASE}")
    yield f"{server}/{DATABASE}"
    admin(f"DROP DATABASE IF EXISTS {DATABASE} WITH (FORCE)")


@pytest.fixture
def env(database, tmp_path):
    return {
        **{name: value for name, value in os.environ.items() if "DJANGO" not in name},
        "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}",
        "RESTHEIGHT_BOOTSTRAP": "off",
        "RESTHEIGHT_DATA_DIR": str(tmp_path),
        "RESTHEIGHT_SECRET_KEY": secrets.token_urlsafe(50),
        "RESTHEIGHT_ALLOWED_HOSTS": "lab.example",
        "RESTHEIGHT_HTTPS": "1",
        "DATABASE_URL": database,
        "BROKER_URL": next_redis_database(),
    }


def next_redis_database():
    """Beside the one in which another test kills workers, perhaps at this moment."""
    server, _, number = REDIS_URL.rpartition("/")
    return f"{server}/{int(number) + 1}"


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def compose_command(name):
    return yaml.safe_load((ROOT / "docker-compose.yml").read_text())["services"][name]["command"]


def web_command(port):
    found = re.search(r"^CMD (\[.*?\])", (ROOT / "Dockerfile").read_text(), re.M | re.S)
    command = yaml.safe_load(found[1].replace("\\\n", ""))
    return [word.replace("0.0.0.0:8000", f"127.0.0.1:{port}") for word in command]


def manage(env, *arguments):
    return subprocess.run(
        ["python", "manage.py", *arguments], cwd=ROOT, env=env, capture_output=True, text=True
    )


def wait_for(question, within_s=120.0):
    ends = time.monotonic() + within_s
    while (answer := question()).returncode:
        assert time.monotonic() < ends, answer.stdout + answer.stderr
        time.sleep(1)


def test_the_compose_commands_work_and_end_on_request(env, database):
    prepared = subprocess.run(compose_command("prepare"), cwd=ROOT, env=env, capture_output=True)
    assert prepared.returncode == 0, prepared.stderr.decode()
    port = free_port()
    commands = [web_command(port), compose_command("worker"), compose_command("beat")]
    started = [
        subprocess.Popen(command, cwd=ROOT, env=env, stderr=subprocess.DEVNULL)
        for command in commands
    ]
    try:
        wait_for(lambda: manage(env, "alive", "web", "--port", str(port)))
        wait_for(lambda: manage(env, "alive", "worker"))
        wait_for(lambda: job_is_done(database, "audit.verify"))
    finally:
        for process in started:
            process.send_signal(signal.SIGTERM)
        statuses = [process.wait(60) for process in started]
    assert statuses == [0, 0, 0]


def job_is_done(database, kind):
    with psycopg.connect(database) as connection:
        states = connection.execute("SELECT kind, state, error FROM jobs_job").fetchall()
    done = (kind, "done", "") in states
    return subprocess.CompletedProcess([], 0 if done else 1, str(states), "")
