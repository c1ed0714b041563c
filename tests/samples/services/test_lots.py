"""Lots: the code as typed, and what is asked before a doubtful one is kept."""

from __future__ import annotations

from typing import Any

import pytest

from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.errors import Conflict, NotPermitted, RuleViolation
from samples.models import Grade, Lot
from samples.services.lot_codes import clean_lot_code, doubts_about
from samples.services.lots import change_lot
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("  ab-12 ", "AB-12"),
        ("wr  2211", "WR 2211"),
        ("00123", "00123"),
        ("ÅÄ-1", "ÅÄ-1"),
        ("A\u030a-1", "Å-1"),
    ],
)
def test_a_code_is_trimmed_composed_and_in_capitals(typed: str, kept: str) -> None:
    assert clean_lot_code(typed) == kept


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("", "lot_code_length"),
        ("   ", "lot_code_length"),
        ("x" * 41, "lot_code_length"),
        ("\u0410B-12", "lot_code_mixed_scripts"),  # a Cyrillic A
        ("A\u0392-12", "lot_code_mixed_scripts"),  # a Greek Beta
        ("=HYPERLINK", "lot_code_characters"),
        ("+cmd", "lot_code_characters"),
        ("WR\u202e2211", "lot_code_characters"),
        ("WR\u200b2211", "lot_code_characters"),
        ("WR\uff11", "lot_code_characters"),  # a full-width 1
        ("<b>", "lot_code_characters"),
    ],
)
def test_what_cannot_be_a_code_is_refused(typed: str, code: str) -> None:
    with pytest.raises(RuleViolation) as refusal:
        clean_lot_code(typed)
    assert refusal.value.code == code
    assert "code" in refusal.value.fields


@pytest.mark.parametrize(
    ("code", "doubt"),
    [
        ("3-4", "lot_code_date_like"),
        ("2026-03-04", "lot_code_date_like"),
        ("MAR-1", "lot_code_date_like"),
        ("1E5", "lot_code_date_like"),
        ("SEP2", "lot_code_date_like"),
        ("АВ-12", "lot_code_look_alike"),  # both letters Cyrillic
        ("WR-2211", None),
        ("00123", None),
        ("ПЭ-12", None),
    ],
)
def test_doubtful_codes_are_asked_about(code: str, doubt: str | None) -> None:
    assert [each.code for each in doubts_about(code)] == ([doubt] if doubt else [])


def test_a_lot_is_registered_with_an_entry(technician: User, grade: Grade) -> None:
    lot = factories.make_lot(actor=technician, grade=grade, code=" wr-2211 ")
    entry = AuditEntry.objects.get(object_id=lot.pk)
    assert (lot.code, lot.tail) == ("WR-2211", "2211")
    assert entry.action == "samples.lot.registered"
    assert entry.facts["new"]["code"] == "WR-2211"


def test_a_date_like_code_waits_for_a_confirmation(technician: User, grade: Grade) -> None:
    with pytest.raises(RuleViolation) as refusal:
        factories.make_lot(actor=technician, grade=grade, code="3-4")
    assert refusal.value.extra["confirm"] == "confirmed"
    assert not Lot.objects.exists()
    assert factories.make_lot(actor=technician, grade=grade, code="3-4", confirmed=True).code == (
        "3-4"
    )


def test_the_same_lot_is_not_registered_twice(technician: User, grade: Grade) -> None:
    lot = factories.make_lot(actor=technician, grade=grade, code="AB-12")
    with pytest.raises(Conflict) as refusal:
        factories.make_lot(actor=technician, grade=grade, code=" ab-12 ")
    assert refusal.value.extra["lot"] == str(lot.pk)
    assert Lot.objects.count() == 1


@pytest.mark.parametrize("role", ["auditor", "administrator"])
def test_readers_register_nothing(role: str, grade: Grade, request: Any) -> None:
    before = AuditEntry.objects.count()
    person = request.getfixturevalue(role)
    entries_of_person = AuditEntry.objects.count() - before
    with pytest.raises(NotPermitted):
        factories.make_lot(actor=person, grade=grade)
    assert not Lot.objects.exists()
    assert AuditEntry.objects.count() == before + entries_of_person


def test_a_lot_is_corrected_with_a_reason(technician: User, grade: Grade, manager: User) -> None:
    lot = factories.make_lot(actor=technician, grade=grade)
    other = factories.make_grade(actor=manager, name="Teal coating", recipe=grade.recipe)
    changed = change_lot(actor=technician, lot=lot, reason="wrong line picked", grade=other)
    assert changed.grade == other
    assert AuditEntry.objects.filter(object_id=lot.pk).first().reason == "wrong line picked"
