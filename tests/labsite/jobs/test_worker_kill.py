"""A worker killed in the middle of a job: the next one runs it again, with one effect in all."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[3]
BROKERS = ["safefs://localhost", pytest.param("redis", marks=pytest.mark.redis)]
# A worker with short leases and one slow kind of job; "enqueue" instead queues one of it.
PROGRAM = """
import sys, time
from datetime import timedelta
import django
django.setup()
from labsite import celery
from labsite.jobs import services
from labsite.jobs.kinds import job
from labsite.jobs.models import WorkerHeartbeat
services.LEASE = timedelta(seconds=3)
services.RESEND_AFTER = timedelta(seconds=3)

@job("tests.slow")
def slow(run):
    WorkerHeartbeat.objects.create(name=f"effect-{run.job.attempts}", at=run.job.started_at)
    time.sleep(2.0)
    return run.job.attempts

if sys.argv[1] == "enqueue":
    services.enqueue("tests.slow", actor=None)
else:
    schedule = celery.app.conf.beat_schedule
    schedule["tick"] |= {"schedule": 1, "args": [{}], "options": {}}
    celery.app.worker_main(["--quiet", "worker", "--beat", "--pool", "threads", "-c", "2",
        "--without-gossip", "--without-mingle", "--loglevel", "WARNING"])
"""


@pytest.fixture(params=BROKERS)
def env(request, tmp_path):
    broker = request.param
    if broker == "redis":
        broker = os.environ.get("TEST_REDIS_URL")
        if not broker:
            pytest.skip("TEST_REDIS_URL names no Redis server")
    values = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "PYTHONPATH": str(ROOT),
        "RESTHEIGHT_BOOTSTRAP": "off",
        "RESTHEIGHT_DATA_DIR": str(tmp_path),
        "BROKER_URL": broker,
    }
    values.pop("DATABASE_URL", None)
    subprocess.run(
        [sys.executable, "manage.py", "migrate", "-v0"], cwd=ROOT, env=values, check=True
    )
    return values


def start(env, what):
    return subprocess.Popen(
        [sys.executable, "-c", PROGRAM, what], cwd=ROOT, env=env, start_new_session=True
    )


def query(env, statement):
    database = Path(env["RESTHEIGHT_DATA_DIR"]) / "restheight.sqlite3"
    with closing(sqlite3.connect(database, timeout=20)) as connection:
        return connection.execute(statement).fetchall()


def wait_for_job(env, state, within_s=90.0):
    ends = time.monotonic() + within_s
    while not (rows := query(env, f"SELECT * FROM jobs_job WHERE state = '{state}'")):
        assert time.monotonic() < ends, query(env, "SELECT state, attempts, error FROM jobs_job")
        time.sleep(0.1)
    return rows


def kill(worker):
    os.killpg(worker.pid, signal.SIGKILL)
    worker.wait()


def test_a_job_whose_worker_is_killed_is_run_again_with_one_effect(env):
    assert start(env, "enqueue").wait(60) == 0
    first = start(env, "work")
    try:
        wait_for_job(env, "running")
        time.sleep(0.3)  # well inside the work
    finally:
        kill(first)
    assert query(env, "SELECT state, attempts FROM jobs_job") == [("running", 1)]

    second = start(env, "work")
    try:
        wait_for_job(env, "done")
    finally:
        kill(second)
    assert query(env, "SELECT state, attempts, result FROM jobs_job") == [("done", 2, "2")]
    effects = query(env, "SELECT name FROM jobs_workerheartbeat WHERE name LIKE 'effect%'")
    assert effects == [("effect-2",)]
