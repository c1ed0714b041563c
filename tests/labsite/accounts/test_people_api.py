"""People through the API."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.test import Client

from labsite.accounts import audit_actions as actions
from labsite.accounts.models import User
from labsite.accounts.services import note_sign_in
from labsite.accounts.tokens import make_token
from labsite.api.models import IdempotencyRecord
from labsite.audit.models import AuditEntry

pytestmark = pytest.mark.django_db

URL = "/api/v1/people/"
NEW = {"full_name": "Bea Lind", "username": "bea", "role": "technician"}


@pytest.fixture
def admin(as_person: Any, administrator: User) -> Any:
    return as_person(administrator)


def test_the_list_shows_people_and_never_a_password(admin: Any, technician: User) -> None:
    note_sign_in(person=technician)
    answer = admin.get(URL)
    rows = {row["username"]: row for row in answer.json()["results"]}
    assert set(rows) == {"yuki", "imre"}
    assert rows["imre"]["last_signed_in_at"] is not None
    assert "password" not in rows["imre"]
    assert technician.password not in answer.text


def test_the_list_costs_the_same_for_many_people(
    admin: Any, everybody: Any, django_assert_max_num_queries: Any
) -> None:
    with django_assert_max_num_queries(4):
        admin.get(URL)


def test_the_list_can_be_narrowed_down(admin: Any, technician: User, manager: User) -> None:
    names = [row["username"] for row in admin.get(URL, {"role": "manager"}).json()["results"]]
    assert names == ["ingrid"]


def test_a_person_is_added_and_the_password_comes_once(admin: Any) -> None:
    first = admin.post(URL, NEW, HTTP_IDEMPOTENCY_KEY="k1")
    again = admin.post(URL, NEW, HTTP_IDEMPOTENCY_KEY="k1")
    assert (first.status_code, again.status_code) == (201, 200)
    password = first.json()["password"]
    assert "password" not in again.json()
    assert again.json()["id"] == first.json()["id"]
    assert not IdempotencyRecord.objects.filter(answer__contains=password).exists()
    assert User.objects.get(username="bea").check_password(password)
    assert first.headers["Cache-Control"] == "no-store"


def test_adding_needs_a_key_of_ones_own(admin: Any) -> None:
    answer = admin.post(URL, NEW, HTTP_IDEMPOTENCY_KEY="")
    assert (answer.status_code, answer.json()["code"]) == (400, "idempotency_key_required")
    admin.post(URL, NEW, HTTP_IDEMPOTENCY_KEY="k1")
    other = admin.post(URL, {**NEW, "username": "bob"}, HTTP_IDEMPOTENCY_KEY="k1")
    assert (other.status_code, other.json()["code"]) == (422, "idempotency_key_reused")


@pytest.mark.parametrize(
    ("fields", "status", "field"),
    [
        ({"username": "yuki"}, 409, "username"),
        ({"username": "B EA"}, 422, "username"),
        ({"username": None}, 422, "username"),
        ({"username": {"a": 1}}, 422, "username"),
        ({"full_name": "x" * 10_000}, 422, "full_name"),
        ({"full_name": "a\x07"}, 422, "full_name"),
        ({"role": "owner"}, 422, "role"),
        ({"role": ["manager"]}, 422, "role"),
        ({"ends_on": "2026-02-30"}, 422, "ends_on"),
        ({"is_active": False}, 422, "is_active"),
        ({"is_system": True}, 422, "is_system"),
        ({"password": "let me choose it"}, 422, "password"),
    ],
)
def test_a_refusal_names_the_field_and_adds_nobody(
    admin: Any, fields: dict[str, Any], status: int, field: str
) -> None:
    before = AuditEntry.objects.count()
    answer = admin.post(URL, {**NEW, **fields})
    assert answer.status_code == status
    assert field in answer.json()["fields"]
    assert AuditEntry.objects.count() == before


def test_a_null_byte_is_malformed(admin: Any) -> None:
    assert admin.post(URL, {**NEW, "full_name": "a\x00b"}).status_code == 400


def test_markup_comes_back_as_text_in_json(admin: Any) -> None:
    answer = admin.post(URL, {**NEW, "full_name": "<script>alert(1)</script>"})
    assert answer.status_code == 201
    assert answer.headers["Content-Type"] == "application/json"


def test_a_change_names_the_version_that_was_seen(admin: Any, technician: User) -> None:
    address = f"{URL}{technician.pk}/"
    etag = admin.get(address).headers["ETag"]
    assert admin.patch(address, {"role": "shift_lead"}).status_code == 428
    changed = admin.patch(address, {"role": "shift_lead"}, etag=etag)
    assert (changed.status_code, changed.json()["role"]) == (200, "shift_lead")
    stale = admin.patch(address, {"role": "manager"}, etag=etag)
    assert (stale.status_code, stale.json()["current"]["role"]) == (412, "shift_lead")
    assert changed.headers["ETag"] != etag


@pytest.mark.parametrize("field", ["username", "is_active", "must_change_password", "password"])
def test_other_fields_are_not_changed_this_way(admin: Any, technician: User, field: str) -> None:
    address = f"{URL}{technician.pk}/"
    answer = admin.patch(address, {field: "x"}, etag=technician.etag)
    assert (answer.status_code, answer.json()["code"]) == (422, "unknown_field")


def test_the_last_administrator_stays(admin: Any, administrator: User) -> None:
    address = f"{URL}{administrator.pk}/"
    answer = admin.patch(address, {"role": "manager"}, etag=administrator.etag)
    assert (answer.status_code, answer.json()["code"]) == (422, "last_administrator")
    closing = admin.post(f"{address}close/", {"reason": "tired of it"})
    assert (closing.status_code, closing.json()["code"]) == (422, "own_account")


def test_closing_and_reopening(admin: Any, as_person: Any, technician: User) -> None:
    theirs = as_person(technician)
    _token, key = make_token(actor=technician, name="line 2")
    address = f"{URL}{technician.pk}/"
    assert admin.post(f"{address}close/", {"reason": "."}).status_code == 422
    closed = admin.post(f"{address}close/", {"reason": "has left"}, HTTP_IDEMPOTENCY_KEY="c1")
    assert (closed.status_code, closed.json()["is_active"]) == (200, False)
    assert theirs.get("/api/v1/session/").status_code == 401
    header = {"Authorization": f"Bearer {key}"}
    assert Client().get("/api/v1/session/", headers=header).status_code == 401
    assert admin.post(f"{address}close/", {"reason": "again"}).status_code == 409
    assert admin.post(f"{address}reset-password/", {}).json()["code"] == "account_closed"
    reopened = admin.post(f"{address}reopen/", {"reason": "is back"})
    assert (reopened.status_code, reopened.json()["is_active"]) == (200, True)
    assert theirs.get("/api/v1/session/").status_code == 401
    told = AuditEntry.objects.filter(object_id=technician.pk).values_list("action", "reason")
    assert (actions.PERSON_CLOSED, "has left") in told
    assert (actions.PERSON_REOPENED, "is back") in told


def test_a_new_password_comes_once(admin: Any, technician: User) -> None:
    address = f"{URL}{technician.pk}/reset-password/"
    first = admin.post(address, {}, HTTP_IDEMPOTENCY_KEY="r1").json()
    again = admin.post(address, {}, HTTP_IDEMPOTENCY_KEY="r1").json()
    assert "password" not in again
    technician.refresh_from_db()
    assert technician.check_password(first["password"])  # the replay made no other one
    assert technician.must_change_password


def test_ending_all_sign_ins(admin: Any, as_person: Any, technician: User) -> None:
    theirs = as_person(technician)
    assert admin.post(f"{URL}{technician.pk}/end-sessions/", {}).status_code == 200
    assert theirs.get("/api/v1/session/").status_code == 401


def test_nothing_is_ever_deleted(admin: Any, technician: User) -> None:
    assert admin.delete(f"{URL}{technician.pk}/").status_code == 405
    assert admin.put(f"{URL}{technician.pk}/", {}).status_code == 405


def test_an_unknown_person_is_not_found(admin: Any) -> None:
    assert admin.get(f"{URL}{uuid.uuid4()}/").status_code == 404
    assert admin.post(f"{URL}{uuid.uuid4()}/close/", {"reason": "has left"}).status_code == 404


def test_names_and_roles_are_for_everybody(as_person: Any, everybody: list[User]) -> None:
    for person in everybody:
        rows = as_person(person).get(f"{URL}names/").json()["results"]
        assert {row["full_name"] for row in rows} == {p.full_name for p in everybody}
        assert set(rows[0]) == {"id", "full_name", "role"}
    assert as_person(None).get(f"{URL}names/").status_code == 401


@pytest.mark.parametrize("method", ["get", "post"])
def test_other_roles_are_refused_and_it_is_recorded(
    as_person: Any, everybody: list[User], method: str
) -> None:
    for person in everybody[:-1]:
        answer = getattr(as_person(person), method)(URL)
        assert (answer.status_code, answer.json()["code"]) == (403, "not_permitted")
        entry = AuditEntry.objects.filter(object_id=person.pk).order_by("-sequence")[0]
        assert entry.action == actions.ACTION_REFUSED
        assert entry.facts["noted"]["path"] == URL
    assert getattr(as_person(None), method)(URL).status_code == 401


def test_a_change_of_role_takes_effect_at_the_next_request(
    admin: Any, as_person: Any, technician: User
) -> None:
    theirs = as_person(technician)
    assert theirs.get(URL).status_code == 403
    admin.patch(
        f"{URL}{technician.pk}/",
        {"role": "administrator"},
        etag=User.objects.get(pk=technician.pk).etag,
    )
    assert theirs.get(URL).status_code == 200
