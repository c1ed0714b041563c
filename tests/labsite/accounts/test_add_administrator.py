"""The command that makes the first account: no default password exists anywhere."""

from __future__ import annotations

from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from labsite.accounts.management.commands import add_administrator
from labsite.accounts.models import User
from labsite.accounts.services import system_user
from labsite.audit.models import AuditEntry

pytestmark = pytest.mark.django_db

ARGUMENTS = ("add_administrator", "yuki", "Yuki Arai")


def test_a_one_time_password_is_printed_once(db: Any) -> None:
    out = StringIO()
    call_command(*ARGUMENTS, "--one-time", stdout=out)
    person = User.objects.get(username="yuki")
    printed = out.getvalue().split("shown this once: ")[1].split()[0]
    assert person.check_password(printed)
    assert person.must_change_password
    assert person.role == "administrator"
    assert AuditEntry.objects.get(object_id=person.pk).actor == system_user()


def test_a_typed_password_must_be_typed_twice_and_be_good(monkeypatch: Any) -> None:
    typed = iter(["seven quiet glass floats", "seven quiet floats", "short", "short"])
    monkeypatch.setattr("getpass.getpass", lambda _prompt: next(typed))
    monkeypatch.setattr(add_administrator.sys.stdin, "isatty", lambda: True, raising=False)
    with pytest.raises(CommandError, match="differ"):
        call_command(*ARGUMENTS)
    with pytest.raises(CommandError, match="too easy"):
        call_command(*ARGUMENTS)
    assert not User.objects.filter(username="yuki").exists()


def test_without_a_terminal_it_asks_for_the_other_way(monkeypatch: Any) -> None:
    monkeypatch.setattr(add_administrator.sys, "stdin", StringIO())
    with pytest.raises(CommandError, match="--one-time"):
        call_command(*ARGUMENTS)


def test_a_taken_or_odd_name_is_refused() -> None:
    call_command(*ARGUMENTS, "--one-time", stdout=StringIO())
    with pytest.raises(CommandError, match="taken"):
        call_command(*ARGUMENTS, "--one-time", stdout=StringIO())
    with pytest.raises(CommandError, match="small letters"):
        call_command("add_administrator", "y u", "Yuki", "--one-time", stdout=StringIO())


def test_a_fresh_installation_has_nobody_who_can_sign_in(client: Any) -> None:
    system_user()
    for name in ("admin", "administrator", "root", "restheight", "demo"):
        for password in ("admin", "password", "restheight", "demo", "changeme", ""):
            answer = client.post("/sign-in/", {"username": name, "password": password})
            assert answer.status_code in (422, 429)
