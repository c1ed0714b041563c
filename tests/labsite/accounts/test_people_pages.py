"""The administrator's pages: list, add, edit, close, reopen, new password, end sign-ins."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from labsite.accounts import audit_actions as actions
from labsite.accounts.models import User
from labsite.accounts.services import change_person, close_account, note_sign_in
from labsite.accounts.tokens import make_token
from labsite.audit.models import AuditEntry
from tests import factories

pytestmark = pytest.mark.django_db

NEW = {"full_name": "Bea Lind", "username": "bea", "role": "technician"}


def last(person: Any) -> AuditEntry:
    return AuditEntry.objects.filter(object_id=person.pk).order_by("-sequence")[0]


def test_the_list_tells_role_state_and_last_sign_in(
    browser: Any, administrator: User, technician: User, manager: User
) -> None:
    note_sign_in(person=technician)
    close_account(actor=administrator, person=manager, reason="has left")
    answer = browser(administrator).get("/people/")
    assert "2 of 3 people may sign in" in answer.text
    told = {
        person.username: (state, at is not None) for person, state, at in answer.context["rows"]
    }
    assert told == {
        "imre": ("may sign in", True),
        "yuki": ("may sign in", False),
        "ingrid": ("closed", False),
    }


def test_the_list_costs_the_same_for_many_people(
    browser: Any, administrator: User, everybody: Any, django_assert_max_num_queries: Any
) -> None:
    client = browser(administrator)
    with django_assert_max_num_queries(4):
        client.get("/people/")


def test_a_person_is_added_with_a_password_that_is_shown_once(
    browser: Any, administrator: User
) -> None:
    client = browser(administrator)
    answer = client.post("/people/add/", NEW)
    password = answer.context["password"]
    assert answer.status_code == 200
    assert password in answer.text
    assert answer.headers["Cache-Control"] == "private, no-store"
    person = User.objects.get(username="bea")
    assert person.must_change_password
    assert last(person).actor == administrator
    assert not AuditEntry.objects.filter(body__contains=password).exists()
    assert password not in client.get(f"/people/{person.pk}/").text
    fresh = Client()
    entered = fresh.post("/sign-in/", {"username": "bea", "password": password})
    assert entered.status_code == 302
    assert fresh.get("/account/").headers["Location"] == "/account/password/"


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"username": "imre"}, "is taken"),
        ({"username": "IMRE"}, "is taken"),
        ({"username": "restheight"}, "is taken"),
        ({"username": "b e a"}, "Use small letters"),
        ({"username": "<script>alert(1)</script>"}, "Use small letters"),
        ({"username": ""}, "required"),
        ({"username": "x" * 10_000}, "at most 40"),
        ({"full_name": ""}, "required"),
        ({"full_name": "x" * 10_000}, "at most 120"),
        ({"full_name": "Bea\x07"}, "Control characters"),
        ({"full_name": "Bea\x00"}, "Control characters"),
        ({"role": "owner"}, "not one of the available choices"),
        ({"email": "not an address"}, "valid email"),
        ({"ends_on": "2026-02-30"}, "valid date"),
    ],
)
def test_a_refusal_names_the_field_and_adds_nobody(
    browser: Any, administrator: User, technician: User, fields: dict[str, str], told: str
) -> None:
    before = AuditEntry.objects.count()
    answer = browser(administrator).post("/people/add/", {**NEW, **fields})
    assert answer.status_code == 422
    assert told in answer.text
    assert "<script>alert" not in answer.text
    assert "autofocus" in answer.text
    assert not User.objects.filter(full_name__startswith="Bea").exists()
    assert AuditEntry.objects.count() == before


def test_a_name_with_markup_is_shown_as_text(browser: Any, administrator: User) -> None:
    client = browser(administrator)
    client.post("/people/add/", {**NEW, "full_name": "<script>alert(1)</script>"})
    for page in ("/people/", "/history/"):
        text = client.get(page).text
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text
        assert "<script>alert(1)" not in text


def edit(client: Client, person: User, **fields: Any) -> Any:
    values = {
        "full_name": person.full_name,
        "role": person.role,
        "email": person.email,
        "version": person.version,
    }
    return client.post(f"/people/{person.pk}/", {**values, **fields})


def test_an_edit_is_recorded_with_old_and_new(
    browser: Any, administrator: User, technician: User
) -> None:
    assert edit(browser(administrator), technician, role="shift_lead").status_code == 302
    facts = last(technician).facts
    assert (facts["old"]["role"], facts["new"]["role"]) == ("technician", "shift_lead")


def test_a_new_role_takes_effect_at_the_next_request(
    browser: Any, administrator: User, technician: User
) -> None:
    theirs = browser(technician)
    assert theirs.get("/people/").status_code == 403
    edit(browser(administrator), technician, role="administrator")
    assert theirs.get("/people/").status_code == 200


def test_an_edit_that_changes_nothing_leaves_no_entry(
    browser: Any, administrator: User, technician: User
) -> None:
    before = last(technician).sequence
    edit(browser(administrator), technician)
    assert last(technician).sequence == before


def test_who_was_slower_is_told_the_newer_values(
    browser: Any, administrator: User, technician: User
) -> None:
    change_person(actor=administrator, person=technician, full_name="Imre Varga")
    answer = edit(browser(administrator), technician, full_name="Imre V.")
    assert answer.status_code == 422
    assert "Somebody else has changed this account" in answer.text
    assert "Imre Varga" in answer.text
    assert 'value="Imre V."' in answer.text  # what was typed is still there
    technician.refresh_from_db()
    assert technician.full_name == "Imre Varga"


def test_one_cannot_change_ones_own_role_or_close_ones_own_account(
    browser: Any, administrator: User
) -> None:
    factories.make_person(username="second", role="administrator")
    client = browser(administrator)
    assert "your own role" in edit(client, administrator, role="manager").text
    tomorrow = timezone.localdate() + timedelta(days=1)
    assert edit(client, administrator, ends_on=tomorrow.isoformat()).status_code == 422
    closing = client.post(f"/people/{administrator.pk}/close/", {"reason": "tired of it"})
    assert closing.status_code == 422
    administrator.refresh_from_db()
    assert (administrator.role, administrator.is_active) == ("administrator", True)


def test_closing_ends_sign_ins_and_tokens_at_once(
    browser: Any, administrator: User, technician: User
) -> None:
    theirs = browser(technician)
    _token, key = make_token(actor=technician, name="line 2")
    header = {"Authorization": f"Bearer {key}"}
    assert theirs.get("/account/").status_code == 200
    assert Client().get("/api/v1/session/", headers=header).status_code == 200
    browser(administrator).post(f"/people/{technician.pk}/close/", {"reason": "has left"})
    assert theirs.get("/account/").status_code == 302
    assert Client().get("/api/v1/session/", headers=header).status_code == 401
    assert last(technician).reason == "has left"


def test_reopening_brings_neither_sign_ins_nor_tokens_back(
    browser: Any, administrator: User, technician: User
) -> None:
    theirs, admin = browser(technician), browser(administrator)
    _token, key = make_token(actor=technician, name="line 2")
    admin.post(f"/people/{technician.pk}/close/", {"reason": "has left"})
    admin.post(f"/people/{technician.pk}/reopen/", {"reason": "is back"})
    assert theirs.get("/account/").status_code == 302
    header = {"Authorization": f"Bearer {key}"}
    assert Client().get("/api/v1/session/", headers=header).status_code == 401
    entered = Client().post("/sign-in/", {"username": "imre", "password": "correct horse battery"})
    assert entered.status_code == 302


@pytest.mark.parametrize("reason", ["", ".", "   ", "\x00abc", "x" * 10_000])
def test_closing_needs_a_real_reason(
    browser: Any, administrator: User, technician: User, reason: str
) -> None:
    answer = browser(administrator).post(f"/people/{technician.pk}/close/", {"reason": reason})
    assert answer.status_code == 422
    technician.refresh_from_db()
    assert technician.is_active


def test_closing_twice_tells_so(browser: Any, administrator: User, technician: User) -> None:
    client = browser(administrator)
    address = f"/people/{technician.pk}/close/"
    assert client.post(address, {"reason": "has left"}).status_code == 302
    assert "is closed already" in client.post(address, {"reason": "has left"}).text


def test_a_new_password_is_shown_once_and_ends_the_sign_ins(
    browser: Any, administrator: User, technician: User
) -> None:
    theirs, admin = browser(technician), browser(administrator)
    answer = admin.post(f"/people/{technician.pk}/reset-password/")
    password = answer.context["password"]
    assert password in answer.text
    assert theirs.get("/account/").status_code == 302
    technician.refresh_from_db()
    assert technician.check_password(password)
    assert last(technician).action == actions.PASSWORD_RESET
    assert password not in admin.get(f"/people/{technician.pk}/").text


def test_signing_out_everywhere_keeps_the_password(
    browser: Any, administrator: User, technician: User
) -> None:
    theirs = browser(technician)
    browser(administrator).post(f"/people/{technician.pk}/end-sessions/")
    assert theirs.get("/account/").status_code == 302
    technician.refresh_from_db()
    assert technician.check_password("correct horse battery")


def test_an_unknown_person_is_not_found(browser: Any, administrator: User) -> None:
    assert browser(administrator).get(f"/people/{uuid.uuid4()}/").status_code == 404
    assert browser(administrator).get("/people/1/").status_code == 404


@pytest.mark.parametrize("address", ["/people/", "/people/add/", "/people/{pk}/"])
def test_only_administrators_see_these_pages(
    browser: Any, everybody: list[User], address: str
) -> None:
    target = address.format(pk=everybody[0].pk)
    statuses = {person.role: browser(person).get(target).status_code for person in everybody}
    assert statuses.pop("administrator") == 200
    assert set(statuses.values()) == {403}
    assert browser(None).get(target).status_code == 302


def test_a_refused_page_is_kept_in_the_history(browser: Any, technician: User) -> None:
    browser(technician).get("/people/")
    entry = last(technician)
    assert entry.action == actions.ACTION_REFUSED
    assert entry.facts["noted"] == {"code": "not_permitted", "method": "GET", "path": "/people/"}
