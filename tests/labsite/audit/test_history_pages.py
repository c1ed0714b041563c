"""The history's pages: sentences, values in words, filters, one object's history, verification."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from labsite.accounts import audit_actions as actions
from labsite.accounts.models import User
from labsite.accounts.services import add_person, change_person, close_account, note_sign_in
from labsite.accounts.tokens import make_token
from labsite.audit.digests import seal_digest
from labsite.audit.models import AuditEntry

NOBODY = "11111111-2222-4333-8444-555555555555"

pytestmark = pytest.mark.django_db

URL = "/history/"


def browser(person: User | None) -> Client:
    client = Client()
    if person is not None:
        client.force_login(person, backend="labsite.accounts.backends.LabBackend")
    return client


@pytest.fixture
def bea(administrator: User) -> User:
    person = add_person(actor=administrator, username="bea", full_name="Bea", role="technician")
    change_person(actor=administrator, person=person, role="shift_lead")
    return close_account(actor=administrator, person=person, reason="has left us")


def told(answer: Any) -> dict[str, Any]:
    """The stories of a page by action."""
    return {story.entry.action: story for story in answer.context["stories"]}


def test_an_entry_reads_as_a_sentence(administrator: User, bea: User) -> None:
    page = browser(administrator).get(URL)
    story = told(page)[actions.PERSON_CLOSED]
    assert (story.entry.actor_name, story.sentence) == ("Yuki", "closed the account")
    assert "Why: has left us" in page.text
    assert f"/history/accounts.user/{bea.pk}/" in page.text


def test_values_are_told_in_words(administrator: User, bea: User) -> None:
    story = told(browser(administrator).get(URL))[actions.PERSON_CHANGED]
    assert [(line.name, line.old, line.new) for line in story.lines] == [
        ("role", "technician", "shift lead")
    ]
    closed = told(browser(administrator).get(URL))[actions.PERSON_CLOSED]
    assert ("may sign in", "yes", "no") in [(li.name, li.old, li.new) for li in closed.lines]


def test_a_reference_is_told_by_its_name(administrator: User, technician: User) -> None:
    make_token(actor=technician, name="line 2")
    story = told(browser(administrator).get(URL))[actions.TOKEN_MADE]
    values = {line.name: line.new for line in story.lines}
    assert values["owner"] == "Imre"
    assert values["hash of the key"] == "not kept in the history"


def test_ones_own_doings_do_not_repeat_the_name(technician: User) -> None:
    note_sign_in(person=technician)
    page = browser(technician).get(URL)
    assert "<b>Imre</b> signed in</p>" in page.text


def test_the_history_of_one_object(administrator: User, bea: User) -> None:
    page = browser(administrator).get(f"{URL}accounts.user/{bea.pk}/")
    assert [story.entry.sequence for story in page.context["stories"]] == [3, 2, 1]
    assert "What happened to Bea" in page.text


@pytest.mark.parametrize(
    "address",
    [
        "accounts.user/11111111-2222-4333-8444-555555555555/",
        "no.such/11111111-2222-4333-8444-555555555555/",
        "accounts.user/1/",
    ],
)
def test_an_unknown_object_is_not_found(administrator: User, address: str) -> None:
    assert browser(administrator).get(URL + address).status_code == 404


def test_filters(administrator: User, technician: User, bea: User) -> None:
    note_sign_in(person=technician)
    client = browser(administrator)
    assert set(told(client.get(URL, {"action": actions.SIGNED_IN}))) == {actions.SIGNED_IN}
    assert set(told(client.get(URL, {"person": technician.pk}))) == {actions.SIGNED_IN}
    assert not told(client.get(URL, {"kind": "accounts.apitoken"}))
    today, tomorrow = timezone.localdate(), timezone.localdate() + timedelta(days=1)
    assert told(client.get(URL, {"from_on": today.isoformat(), "to_on": today.isoformat()}))
    assert not told(client.get(URL, {"from_on": tomorrow.isoformat()}))


@pytest.mark.parametrize(
    "query",
    [
        {"kind": "no.such"},
        {"person": "1"},
        {"person": "\x00"},
        {"action": "<script>alert(1)</script>"},
        {"from_on": "2026-02-30"},
        {"to_on": "9999-12-31"},
        {"before": "x"},
        {"before": "9" * 30},
    ],
)
def test_odd_filters_are_refused(administrator: User, query: dict[str, str]) -> None:
    answer = browser(administrator).get(URL, query)
    assert answer.status_code == 422
    assert "<script>alert" not in answer.text


def test_older_entries_follow_without_a_gap(administrator: User, technician: User) -> None:
    for _time in range(60):
        note_sign_in(person=technician)
    client = browser(administrator)
    first = client.get(URL, {"action": actions.SIGNED_IN})
    second = client.get(URL + first.context["older"])
    ids = [story.entry.pk for page in (first, second) for story in page.context["stories"]]
    assert len(first.context["stories"]) == 50
    signed_in = AuditEntry.objects.filter(action=actions.SIGNED_IN).order_by("-id")
    assert ids == list(signed_in.values_list("pk", flat=True))
    assert second.context["older"] == ""


def test_a_page_costs_a_fixed_number_of_queries(
    administrator: User, technician: User, bea: User, django_assert_max_num_queries: Any
) -> None:
    for number in range(5):
        make_token(actor=technician, name=f"line {number}")
    client = browser(administrator)
    with django_assert_max_num_queries(5):
        client.get(URL)


def test_what_is_hidden_is_said_to_be_hidden(technician: User, bea: User) -> None:
    text = browser(technician).get(URL).text
    assert "not for you to see" in text
    assert "has left us" not in text


def test_a_stranger_is_sent_to_the_sign_in(db: Any) -> None:
    for address in (
        URL,
        f"{URL}verification/",
        f"{URL}accounts.user/{NOBODY}/",
    ):
        assert browser(None).get(address).status_code == 302


def test_verifying_from_the_page(auditor: User, bea: User) -> None:
    client, address = browser(auditor), f"{URL}verification/"
    digest = seal_digest()
    assert "has not been verified yet" in client.get(address).text
    assert client.post(address).headers["Location"] == address
    page = client.get(address).text
    assert "held when it was last verified" in page
    assert digest.hash in page


def test_the_page_names_the_altered_record(auditor: User, bea: User) -> None:
    User.objects.filter(pk=bea.pk).update(role="manager")
    client = browser(auditor)
    client.post(f"{URL}verification/")
    page = client.get(f"{URL}verification/").text
    assert "The history does not hold: 1 finding." in page
    assert "row_changed" in page


def test_who_may_verify(technician: User, manager: User) -> None:
    address = f"{URL}verification/"
    link = f'href="{address}"'
    assert browser(technician).post(address).status_code == 403
    assert browser(manager).post(address).status_code == 302
    assert link in browser(manager).get(URL).text
    assert link not in browser(technician).get(URL).text
