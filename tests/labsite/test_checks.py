"""Settings that cannot work stop the start, with a hint."""

from __future__ import annotations

import pytest

from labsite import celery, checks


def ids(found):
    return [message.id for message in found]


@pytest.mark.parametrize(
    "check",
    [
        checks.check_database,
        checks.check_broker,
        checks.check_data_folder,
        checks.check_time_zone,
        checks.check_schedule,
    ],
)
def test_the_shipped_settings_pass(check):
    assert check() == []


def test_an_unknown_database_engine(settings):
    settings.DATABASES = {"default": {"ENGINE": "django.db.backends.mysql"}}
    found = checks.check_database()
    assert ids(found) == ["labsite.E001"]
    assert "postgres://" in found[0].hint


def test_sqlite_without_immediate_transactions(settings):
    settings.DATABASES = {"default": {"ENGINE": "django.db.backends.sqlite3", "OPTIONS": {}}}
    assert ids(checks.check_database()) == ["labsite.E002"]


@pytest.mark.parametrize("url", ["amqp://guest@localhost//", "memory://", "localhost:6379"])
def test_an_unknown_broker(settings, url):
    settings.BROKER_URL = url
    assert ids(checks.check_broker()) == ["labsite.E003"]


@pytest.mark.parametrize("url", ["safefs://localhost", "redis://localhost/5", "rediss://host/0"])
def test_the_known_brokers(settings, url):
    settings.BROKER_URL = url
    assert checks.check_broker() == []


def test_a_data_folder_that_is_not_there(settings, tmp_path):
    settings.DATA_DIR = tmp_path / "missing"
    assert ids(checks.check_data_folder()) == ["labsite.E004"]


def test_a_time_zone_that_does_not_exist(settings, monkeypatch):
    monkeypatch.setattr(checks, "available_timezones", lambda: {"Europe/Vienna"})
    assert ids(checks.check_time_zone()) == ["labsite.E005"]


def test_a_schedule_with_an_unknown_kind(monkeypatch):
    monkeypatch.setitem(celery.SCHEDULE, "columns.unheard_of", 60)
    found = checks.check_schedule()
    assert ids(found) == ["labsite.E006"]
    assert "columns.unheard_of" in found[0].msg


@pytest.mark.parametrize(("demo", "expected"), [(True, ["labsite.W001"]), (False, [])])
def test_demo_mode_is_a_warning_on_deployment(settings, demo, expected):
    settings.RESTHEIGHT_DEMO = demo
    assert ids(checks.check_demo_mode()) == expected
