"""manage.py verify_history and seal_digest."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import call_command

from labsite.accounts.models import User
from labsite.audit.models import AuditDigest

pytestmark = pytest.mark.django_db


def run(*arguments: str) -> str:
    out = StringIO()
    call_command(*arguments, stdout=out)
    return out.getvalue()


def test_an_honest_history_holds(technician: User) -> None:
    assert "The history holds: 2 entries of 2 objects, 2 rows, 0 digests." in run("verify_history")


def test_an_altered_row_is_named_and_the_status_is_one(technician: User) -> None:
    User.objects.filter(pk=technician.pk).update(role="manager")
    out = StringIO()
    with pytest.raises(SystemExit) as stopped:
        call_command("verify_history", stdout=out)
    assert stopped.value.code == 1
    assert f"row_changed: accounts.user:{technician.pk} (Imre)" in out.getvalue()


def test_the_result_can_be_had_as_json(technician: User) -> None:
    assert json.loads(run("verify_history", "--json"))["holds"] is True


def test_a_digest_is_sealed_once_for_what_moved(technician: User) -> None:
    assert run("seal_digest").startswith("Digest 1 of ")
    assert run("seal_digest") == "Nothing has happened since the last digest.\n"
    assert AuditDigest.objects.count() == 1
