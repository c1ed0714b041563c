"""`up` refuses to start over something else, and the health checks say what is wrong."""

from __future__ import annotations

import http.server
import socket
import threading
from datetime import UTC, datetime

import pytest
from django.core.management import CommandError, call_command

from labsite.jobs import services as jobs
from labsite.operations import startup


@pytest.fixture
def taken_port():
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        yield listener.getsockname()[1]


def test_up_names_a_port_that_is_taken_before_it_touches_anything(taken_port, monkeypatch):
    monkeypatch.setattr(startup, "prepare_database", lambda: pytest.fail("touched the database"))
    with pytest.raises(CommandError, match=rf"port {taken_port}: Address already in use.*--port"):
        call_command("up", port=taken_port)


def test_up_refuses_an_address_of_another_machine():
    with pytest.raises(CommandError, match=r"Cannot listen on 192\.0\.2\.1"):
        startup.require_free_port("192.0.2.1", 8000)


def test_a_second_up_on_the_same_data_is_refused(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    with (
        startup.hold_data_folder(),
        pytest.raises(CommandError, match="already running"),
    ):
        startup.hold_data_folder()
    startup.hold_data_folder().close()


@pytest.mark.django_db
def test_demo_mode_refuses_a_real_laboratory(manager):
    with pytest.raises(CommandError, match="real laboratory"):
        startup.load_demo_if_empty()


@pytest.mark.django_db
def test_the_demo_is_loaded_into_an_empty_database_only_once(monkeypatch):
    calls = []
    monkeypatch.setattr(startup, "call_command", lambda name, **_: calls.append(name))
    assert startup.load_demo_if_empty()
    assert calls == ["load_demo"]


@pytest.mark.django_db
def test_alive_worker():
    with pytest.raises(CommandError, match="since ever"):
        call_command("alive", "worker")
    jobs.record_heartbeat("worker@one")
    call_command("alive", "worker")
    jobs.WorkerHeartbeat.objects.update(at=datetime(2026, 1, 1, tzinfo=UTC))
    with pytest.raises(CommandError, match="since 2026-01-01"):
        call_command("alive", "worker")


class Answer(http.server.BaseHTTPRequestHandler):
    status = 200

    def do_GET(self):
        self.send_response(self.status)
        self.end_headers()

    def log_message(self, *args):
        pass


@pytest.fixture
def web():
    server = http.server.HTTPServer(("127.0.0.1", 0), Answer)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield server.server_address[1]
    server.shutdown()
    server.server_close()


def test_alive_web(web, monkeypatch, taken_port):
    call_command("alive", "web", port=web)
    monkeypatch.setattr(Answer, "status", 500)
    with pytest.raises(CommandError, match="status 500"):
        call_command("alive", "web", port=web)


def test_alive_web_says_that_nothing_listens():
    with socket.socket() as closed:
        closed.bind(("127.0.0.1", 0))
        port = closed.getsockname()[1]
    with pytest.raises(CommandError, match="does not answer"):
        call_command("alive", "web", port=port)
