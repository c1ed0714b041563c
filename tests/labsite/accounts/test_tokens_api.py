"""API tokens and the session through the API."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from labsite.accounts.models import ApiToken, User
from labsite.accounts.roles import GRANTS, Role
from labsite.accounts.tokens import make_token
from labsite.api.models import IdempotencyRecord
from labsite.audit.models import AuditEntry

pytestmark = pytest.mark.django_db

URL = "/api/v1/tokens/"


def test_the_key_comes_once_and_is_kept_nowhere(as_person: Any, technician: User) -> None:
    client = as_person(technician)
    first = client.post(URL, {"name": "line 2"}, HTTP_IDEMPOTENCY_KEY="t1")
    again = client.post(URL, {"name": "line 2"}, HTTP_IDEMPOTENCY_KEY="t1")
    key = first.json()["key"]
    assert (first.status_code, again.status_code) == (201, 200)
    assert "key" not in again.json()
    assert ApiToken.objects.count() == 1
    assert not IdempotencyRecord.objects.filter(answer__contains=key).exists()
    assert not AuditEntry.objects.filter(body__contains=key).exists()
    listed = client.get(URL)
    assert key not in listed.text
    assert "key_hash" not in listed.json()["results"][0]


def test_a_token_works_with_the_persons_role(as_person: Any, technician: User) -> None:
    _token, key = make_token(actor=technician, name="line 2")
    client = as_person(None)
    header = {"HTTP_AUTHORIZATION": f"Bearer {key}"}
    told = client.get("/api/v1/session/", **header).json()
    assert told["username"] == "imre"
    assert client.get("/api/v1/people/", **header).status_code == 403
    assert client.post(URL, {"name": "from a token"}, **header).status_code == 201  # no CSRF


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "name"),
        ({"name": ""}, "name"),
        ({"name": "x" * 10_000}, "name"),
        ({"name": "a", "expires_at": "tomorrow"}, "expires_at"),
        ({"name": "a", "expires_at": "2030-01-01T00:00:00"}, "expires_at"),
        ({"name": "a", "expires_at": "2020-01-01T00:00:00+00:00"}, "expires_at"),
        ({"name": "a", "owner": str(uuid.uuid4())}, "owner"),
    ],
)
def test_a_refusal_names_the_field(
    as_person: Any, technician: User, body: dict[str, Any], field: str
) -> None:
    answer = as_person(technician).post(URL, body)
    assert answer.status_code == 422
    assert field in answer.json()["fields"]
    assert not ApiToken.objects.exists()


def test_an_end_is_kept(as_person: Any, technician: User) -> None:
    ends = (timezone.now() + timedelta(days=3)).isoformat()
    as_person(technician).post(URL, {"name": "a", "expires_at": ends})
    assert ApiToken.objects.get().expires_at.isoformat() == ends


def test_only_ones_own_tokens_are_listed_and_revoked(
    as_person: Any, technician: User, other_technician: User, administrator: User
) -> None:
    token, _key = make_token(actor=technician, name="line 2")
    other = as_person(other_technician)
    assert other.get(URL).json()["results"] == []
    assert other.post(f"{URL}{token.pk}/revoke/", {}).status_code == 404
    token.refresh_from_db()
    assert token.revoked_at is None
    admin = as_person(administrator)
    assert [row["name"] for row in admin.get(URL).json()["results"]] == ["line 2"]
    revoked = admin.post(f"{URL}{token.pk}/revoke/", {})
    assert revoked.json()["revoked_at"] is not None


def test_revoking_twice_changes_nothing_more(as_person: Any, technician: User) -> None:
    token, _key = make_token(actor=technician, name="line 2")
    client = as_person(technician)
    first = client.post(f"{URL}{token.pk}/revoke/", {}).json()
    second = client.post(f"{URL}{token.pk}/revoke/", {}).json()
    assert first == second
    assert AuditEntry.objects.filter(object_id=token.pk).count() == 2


def test_the_session_tells_who_what_and_when(as_person: Any, everybody: list[User]) -> None:
    for person in everybody:
        told = as_person(person).get("/api/v1/session/").json()
        assert told["person"]["id"] == str(person.pk)
        assert told["person"]["role"] == person.role
        assert set(told["actions"]) == {str(action) for action in GRANTS[Role(person.role)]}
        assert told["server_time"]
        assert told["demo"] is False
    assert as_person(None).get("/api/v1/session/").status_code == 401
