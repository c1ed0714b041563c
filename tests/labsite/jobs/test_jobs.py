"""The job table as the truth: queued with the caller's transaction, done once, never forgotten."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta

import pytest
from celery import Celery
from django.db import IntegrityError, transaction

from labsite.clock import FixedClock
from labsite.errors import RuleViolation
from labsite.jobs import runner, services
from labsite.jobs.kinds import job, kind_of
from labsite.jobs.models import Job, JobState, WorkerHeartbeat
from labsite.jobs.runner import DeadlinePassed, Run, run_job
from labsite.jobs.selectors import worker_life
from labsite.jobs.services import claim, enqueue, enqueue_due, fail, finish, sweep
from labsite.jobs.transport import options_for

T0 = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)


def at(**later):
    return FixedClock(T0 + timedelta(**later), source="test")


@job("tests.mark")
def mark(run, name):
    """Its effect: one heartbeat row per name, refused the second time."""
    WorkerHeartbeat.objects.create(name=name, at=T0)
    return {"marked": name}


@job("tests.break", attempts=2)
def break_down(run):
    WorkerHeartbeat.objects.create(name="half", at=T0)
    raise RuntimeError("the sky fell")


@job("tests.refuse")
def refuse(run):
    raise RuleViolation("no_floats", "There are no floats.")


@pytest.fixture
def sent(monkeypatch):
    """Ids handed to the broker."""
    ids = []
    monkeypatch.setattr(
        services.current_app, "send_task", lambda name, args, **_: ids.append(args[0])
    )
    return ids


@pytest.mark.django_db
def test_a_job_is_sent_only_when_the_callers_transaction_commits(
    sent, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        queued = enqueue("tests.mark", actor=None, name="a")
        assert sent == []
    assert sent == [str(queued.pk)]
    queued.refresh_from_db()
    assert queued.sent_at is not None
    assert queued.arguments == {"name": "a"}


@pytest.mark.usefixtures("flushed_history")
def test_a_rolled_back_transaction_leaves_no_job(sent):
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        enqueue("tests.mark", actor=None, name="a")
        raise ZeroDivisionError
    assert not Job.objects.exists()
    assert sent == []


@pytest.mark.usefixtures("flushed_history")
def test_a_broker_that_is_down_neither_breaks_the_caller_nor_loses_the_job(monkeypatch, tmp_path):
    address = "redis://127.0.0.1:1/0"
    down = Celery("down", broker=address, set_as_current=False)
    down.conf.broker_transport_options = options_for(address, tmp_path)
    monkeypatch.setattr(services, "current_app", down)
    began = time.monotonic()
    queued = enqueue("tests.mark", actor=None, name="a")
    assert time.monotonic() - began < 3
    queued.refresh_from_db()
    assert queued.state == JobState.QUEUED
    assert queued.sent_at is None


@pytest.mark.django_db
def test_sweep_sends_what_was_never_sent(sent):
    queued = enqueue("tests.mark", actor=None, clock=at(), name="a")
    assert sweep(clock=at(seconds=15)) == 1
    assert sent == [str(queued.pk)]


@pytest.mark.django_db
def test_sweep_waits_a_minute_before_it_sends_again(sent):
    enqueue("tests.mark", actor=None, clock=at(), name="a")
    assert [sweep(clock=at(seconds=s)) for s in (1, 30, 60, 62, 90)] == [1, 0, 0, 1, 0]


@pytest.mark.django_db
def test_an_unknown_kind_is_refused_at_once():
    with pytest.raises(KeyError):
        enqueue("tests.unheard_of", actor=None)


@pytest.mark.django_db
def test_the_same_key_makes_one_job():
    first = enqueue("tests.mark", actor=None, key="2026-03-02", name="a")
    again = enqueue("tests.mark", actor=None, key="2026-03-02", name="a")
    other = enqueue("tests.mark", actor=None, key="2026-03-03", name="a")
    assert first.pk == again.pk != other.pk


@pytest.mark.django_db
def test_the_database_itself_refuses_a_second_job_of_the_same_key():
    first = enqueue("tests.mark", actor=None, key="once", name="a")
    with pytest.raises(IntegrityError), transaction.atomic():
        Job.objects.create(kind=first.kind, key="once", created_at=T0, due_at=T0)


@pytest.mark.django_db
def test_running_a_job_keeps_its_answer():
    done = run_job(enqueue("tests.mark", actor=None, name="a").pk)
    assert (done.state, done.attempts, done.outcome) == (JobState.DONE, 1, {"marked": "a"})
    assert done.finished_at is not None


@pytest.mark.django_db
def test_five_deliveries_have_one_effect():
    queued = enqueue("tests.mark", actor=None, name="a")
    answers = [run_job(queued.pk) for _ in range(5)]
    assert answers[1:] == [None] * 4
    assert WorkerHeartbeat.objects.count() == 1


@pytest.mark.django_db
def test_a_running_job_is_not_taken_before_its_lease_has_run_out():
    queued = enqueue("tests.mark", actor=None, clock=at(), name="a")
    first = claim(queued.pk, clock=at())
    assert claim(queued.pk, clock=at(seconds=59)) is None
    second = claim(queued.pk, clock=at(seconds=61))
    assert (first.attempts, second.attempts) == (1, 2)


@pytest.mark.django_db
def test_a_heartbeat_keeps_the_lease():
    queued = enqueue("tests.mark", actor=None, clock=at(), name="a")
    first = claim(queued.pk, clock=at())
    assert services.extend_lease(first, clock=at(seconds=50))
    assert claim(queued.pk, clock=at(seconds=61)) is None


@pytest.mark.django_db
def test_who_has_lost_the_lease_can_neither_finish_nor_fail_nor_extend():
    queued = enqueue("tests.mark", actor=None, clock=at(), name="a")
    stalled = claim(queued.pk, clock=at())
    claim(queued.pk, clock=at(seconds=61))
    assert not services.extend_lease(stalled, clock=at(seconds=62))
    assert not finish(stalled, None, clock=at(seconds=62))
    assert not fail(stalled, "late", again=True, clock=at(seconds=62))
    assert Job.objects.get().state == JobState.RUNNING


@pytest.mark.django_db
def test_the_effect_of_a_stalled_attempt_is_rolled_back(monkeypatch):
    queued = enqueue("tests.mark", actor=None, name="a")

    def take_over(run, **args):
        Job.objects.filter(pk=run.job.pk).update(lease_expires_at=T0)
        assert claim(queued.pk) is not None
        return mark(run, **args)

    monkeypatch.setattr(runner, "kind_of", lambda code: _with_work(kind_of(code), take_over))
    left = run_job(queued.pk)
    assert left.state == JobState.RUNNING
    assert not WorkerHeartbeat.objects.exists()


def _with_work(kind, work):
    return type(kind)(kind.code, work, kind.attempts, kind.deadline, kind.atomic)


@pytest.mark.django_db
def test_a_broken_job_leaves_nothing_half_done_and_is_tried_again_later(sent):
    queued = enqueue("tests.break", actor=None)
    after = run_job(queued.pk)
    assert after.state == JobState.QUEUED
    assert after.error == "RuntimeError: the sky fell"
    assert after.due_at > after.started_at
    assert not WorkerHeartbeat.objects.exists()
    assert run_job(queued.pk) is None  # not due yet


@pytest.mark.django_db
def test_a_broken_job_fails_after_its_last_attempt():
    queued = enqueue("tests.break", actor=None)
    run_job(queued.pk)
    Job.objects.update(due_at=T0)
    after = run_job(queued.pk)
    assert (after.state, after.attempts) == (JobState.FAILED, 2)
    assert after.finished_at is not None


@pytest.mark.django_db
def test_a_refusal_of_the_lab_is_not_tried_again():
    after = run_job(enqueue("tests.refuse", actor=None).pk)
    assert (after.state, after.error) == (JobState.FAILED, "no_floats: There are no floats.")


@pytest.mark.django_db
def test_a_job_that_keeps_killing_its_worker_is_given_up(sent):
    queued = enqueue("tests.break", actor=None, clock=at())
    for minute in (0, 2):
        claim(queued.pk, clock=at(minutes=minute))
        swept = sweep(clock=at(minutes=minute + 1, seconds=1))
        assert swept == (1 if minute == 0 else 0)
    queued.refresh_from_db()
    assert queued.state == JobState.FAILED
    assert "2 times" in queued.error


@pytest.mark.django_db
def test_the_lease_is_extended_while_the_work_goes_on(monkeypatch):
    extended = []
    monkeypatch.setattr(services, "extend_lease", lambda job: extended.append(job.pk))
    run = Run(Job(kind="tests.mark"), timedelta(minutes=1))
    with runner.kept_alive(run, every=timedelta(milliseconds=10)):
        time.sleep(0.2)
    assert len(extended) >= 3
    count = len(extended)
    time.sleep(0.05)
    assert len(extended) == count


def test_the_deadline_ends_loops_and_heartbeats(monkeypatch):
    extended = []
    monkeypatch.setattr(services, "extend_lease", lambda job: extended.append(job.pk))
    run = Run(Job(kind="tests.mark"), timedelta(0))
    with pytest.raises(DeadlinePassed, match=r"tests\.mark"):
        run.check_deadline()
    with runner.kept_alive(run, every=timedelta(milliseconds=5)):
        time.sleep(0.05)
    assert extended == []


@pytest.mark.django_db
def test_each_period_gets_one_job_however_often_the_beat_ticks(sent):
    schedule = {"tests.refuse": 3600}
    for minutes in (0, 1, 59, 60, 61, 30):  # the last one: a clock set back
        enqueue_due(schedule, clock=at(minutes=minutes))
    assert sorted(Job.objects.values_list("key", flat=True)) == [
        "2026-03-02T07:00:00+00:00",
        "2026-03-02T08:00:00+00:00",
    ]


@pytest.mark.django_db
def test_after_an_outage_the_current_period_is_caught_up():
    enqueue_due({"tests.refuse": 86400}, clock=at())
    enqueue_due({"tests.refuse": 86400}, clock=at(days=3, hours=5))
    assert sorted(Job.objects.values_list("key", flat=True)) == [
        "2026-03-02T00:00:00+00:00",
        "2026-03-05T00:00:00+00:00",
    ]


@pytest.mark.django_db
def test_worker_life(settings):
    settings.WORKER_SILENT_AFTER_SECONDS = 60
    assert worker_life(clock=at()) == type(worker_life())(False, None)
    services.record_heartbeat("worker@one", clock=at())
    services.record_heartbeat("worker@one", clock=at(seconds=15))
    assert worker_life(clock=at(seconds=75)).is_alive
    silent = worker_life(clock=at(seconds=76))
    assert (silent.is_alive, silent.last_at) == (False, T0 + timedelta(seconds=15))


def test_one_kind_cannot_be_registered_by_two_functions():
    with pytest.raises(ValueError, match="registered twice"):

        @job("tests.mark")
        def other(run):
            return None
