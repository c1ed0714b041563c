"""Entries chain, refuse change, and a tampered database is found."""

from __future__ import annotations

import pytest
from django.db import DatabaseError, connection, transaction

from labsite.accounts import audit_actions as actions
from labsite.accounts.models import User
from labsite.accounts.services import add_person, change_person
from labsite.audit.digests import seal_digest
from labsite.audit.models import AuditEntry, AuditHead
from labsite.audit.services import change
from labsite.audit.verification import verify

pytestmark = pytest.mark.django_db


@pytest.fixture
def person(administrator: User) -> User:
    person = add_person(
        actor=administrator,
        username="bea",
        full_name="Bea",
        role="technician",
        password="x" * 9 + "yz4",
    )
    return change_person(actor=administrator, person=person, full_name="Bea B.")


def without_triggers(statement: str, *values: object) -> None:
    """What a person with full control of the database could do."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(
                "SELECT name, sql FROM sqlite_master WHERE type='trigger' AND name LIKE 'audit_%%'"
            )
            triggers = cursor.fetchall()
            for name, _sql in triggers:
                cursor.execute(f"DROP TRIGGER {name}")
            cursor.execute(statement, values)
            for _name, sql in triggers:
                cursor.execute(sql)
        else:
            cursor.execute("SET session_replication_role = replica")
            cursor.execute(statement, values)
            cursor.execute("SET session_replication_role = DEFAULT")


def codes() -> set[str]:
    return {finding.code for finding in verify().findings}


def test_an_honest_history_holds(person: User) -> None:
    seal_digest()
    result = verify()
    assert result.findings == []
    assert result.entries >= 3
    assert result.digests == 1


def test_an_entry_tells_who_what_old_and_new(person: User, administrator: User) -> None:
    entry = AuditEntry.objects.filter(object_id=person.pk).first()
    assert entry.action == actions.PERSON_CHANGED
    assert entry.actor == administrator
    assert entry.facts["old"] == {"full_name": "Bea", "version": 1}
    assert entry.facts["new"] == {"full_name": "Bea B.", "version": 2}


def test_the_password_is_never_in_the_history(person: User) -> None:
    assert not AuditEntry.objects.filter(body__contains=person.password).exists()


@pytest.mark.parametrize(
    "verb", ["UPDATE audit_auditentry SET reason = 'x'", "DELETE FROM audit_auditentry"]
)
def test_the_database_refuses_to_change_entries(person: User, verb: str) -> None:
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(verb)


def test_an_edited_entry_is_found(person: User) -> None:
    without_triggers("UPDATE audit_auditentry SET body = replace(body, 'Bea B.', 'Eve')")
    assert "entry_changed" in codes()


def test_an_edited_column_is_found(person: User) -> None:
    without_triggers("UPDATE audit_auditentry SET actor_name = 'Eve' WHERE sequence = 2")
    assert "column_changed" in codes()


def test_a_removed_entry_is_found(person: User) -> None:
    without_triggers("DELETE FROM audit_auditentry WHERE sequence = 1 AND object_label = 'Bea'")
    assert "entry_missing" in codes()


def test_a_cut_tail_is_found(person: User) -> None:
    without_triggers("DELETE FROM audit_auditentry WHERE sequence = 2 AND object_label = 'Bea B.'")
    assert "tail_cut" in codes()


def test_a_cut_tail_with_a_forged_head_is_found_back_to_the_last_digest(person: User) -> None:
    seal_digest()
    first = AuditEntry.objects.get(object_id=person.pk, sequence=1)
    without_triggers("DELETE FROM audit_auditentry WHERE sequence = 2 AND object_label = 'Bea B.'")
    AuditHead.objects.filter(key=f"accounts.user:{person.pk}").update(sequence=1, hash=first.hash)
    assert "entries_removed" in codes()


def test_exchanged_entries_are_found(person: User) -> None:
    key = person.pk.hex if connection.vendor == "sqlite" else str(person.pk)
    for old, new in ((1, 99), (2, 1), (99, 2)):
        without_triggers(
            "UPDATE audit_auditentry SET sequence = %s WHERE sequence = %s AND object_id = %s",
            new,
            old,
            key,
        )
    assert {"chain_broken", "column_changed"} <= codes()


def test_a_row_edited_behind_the_app_is_found(person: User) -> None:
    User.objects.filter(pk=person.pk).update(role="manager")
    found = [f for f in verify().findings if f.code == "row_changed"]
    assert len(found) == 1
    assert "role" in found[0].detail


def test_a_removed_row_and_a_foreign_row_are_found(person: User) -> None:
    without_triggers("UPDATE accounts_user SET id = %s WHERE username = 'bea'", "0" * 32)
    assert {"row_removed", "row_without_entry"} <= codes()


def test_nothing_is_recorded_of_a_change_that_failed(administrator: User) -> None:
    before = AuditEntry.objects.count()
    with pytest.raises(RuntimeError), change(actor=administrator) as log:
        log.note(administrator, actions.SIGNED_IN)
        raise RuntimeError
    assert AuditEntry.objects.count() == before


def test_an_inner_change_that_failed_leaves_only_the_outer_entries(administrator: User) -> None:
    before = AuditEntry.objects.count()
    with change(actor=administrator) as log:
        with pytest.raises(RuntimeError), change(actor=administrator) as inner:
            inner.note(administrator, actions.SIGNED_OUT)
            raise RuntimeError
        log.note(administrator, actions.SIGNED_IN)
    assert AuditEntry.objects.count() == before + 1
    assert verify().holds


def test_a_change_needs_an_actor() -> None:
    with pytest.raises(ValueError, match="actor"), change(actor=None):
        pass
