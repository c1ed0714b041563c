"""One shape for every error of the API, {code, message, fields}, and a page for those of pages."""

from __future__ import annotations

import json
import uuid
from typing import Any

import pytest
from django.db import OperationalError
from django.http import Http404
from django.test import Client, RequestFactory

from labsite.accounts import lockout
from labsite.accounts.models import User
from labsite.accounts.roles import Role
from tests import factories

NOBODY = "11111111-2222-4333-8444-555555555555"

pytestmark = pytest.mark.django_db

PEOPLE = "/api/v1/people/"
NEW = {"full_name": "Bea", "username": "bea", "role": "technician"}


@pytest.fixture
def admin(administrator: User) -> Client:
    return signed_in(administrator)


def signed_in(person: User) -> Client:
    client = Client(raise_request_exception=False)
    client.force_login(person, backend="labsite.accounts.backends.LabBackend")
    return client


def post(client: Client, body: Any, **headers: str) -> Any:
    headers = {"Idempotency-Key": uuid.uuid4().hex, **headers}
    content_type = headers.pop("Content-Type", "application/json")
    data = body if isinstance(body, str | bytes) else json.dumps(body)
    return client.post(PEOPLE, data, content_type=content_type, headers=headers)


def check(answer: Any, status: int, code: str) -> dict[str, Any]:
    assert answer.status_code == status, answer.text
    assert answer.headers["Content-Type"].startswith("application/json")
    body = answer.json()
    assert set(body) >= {"code", "message", "fields"}
    assert set(body) <= {"code", "message", "fields", "current"}
    assert body["code"] == code
    assert isinstance(body["message"], str)
    assert body["message"]
    for name, texts in body["fields"].items():
        assert isinstance(name, str)
        assert texts
        assert all(isinstance(text, str) for text in texts)
    return body


def deep(levels: int) -> str:
    return '{"full_name":' * levels + "1" + "}" * levels


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ("{", "malformed"),
        (b"\xff\xfe", "malformed"),
        ('{"a": NaN}', "malformed"),
        ('{"a": Infinity}', "malformed"),
        ('{"a": 1e999}', "malformed"),
        ('{"a": ' + "9" * 5000 + "}", "malformed"),
        ('{"a": 1, "a": 2}', "malformed"),
        (deep(21), "malformed"),
        (deep(50_000), "malformed"),
        ("[" * 50_000 + "]" * 50_000, "malformed"),
        ('{"full_name": "a\\u0000b"}', "malformed"),
        ('{"full_name": "\\ud800"}', "malformed"),
    ],
)
def test_what_cannot_be_read_is_400(admin: Client, body: Any, code: str) -> None:
    check(post(admin, body), 400, code)


@pytest.mark.parametrize("body", ["[]", "7", '"text"', "null", "[{}]", ""])
def test_a_body_that_is_no_object_is_422(admin: Client, body: str) -> None:
    check(post(admin, body), 422, "invalid")


def test_fields_are_named(admin: Client) -> None:
    body = check(post(admin, {**NEW, "role": "owner", "email": "x"}), 422, "invalid")
    assert set(body["fields"]) == {"role", "email"}
    body = check(post(admin, {**NEW, "shoe_size": 44}), 422, "unknown_field")
    assert set(body["fields"]) == {"shoe_size"}


def test_no_key_and_a_bad_key(admin: Client) -> None:
    check(post(admin, NEW, **{"Idempotency-Key": ""}), 400, "idempotency_key_required")
    check(post(admin, NEW, **{"Idempotency-Key": "x" * 200}), 400, "idempotency_key_malformed")


def test_strangers_and_the_wrong_role(administrator: User, technician: User) -> None:
    stranger = check(Client().get(PEOPLE), 401, "not_signed_in")
    assert "sign in" in stranger["message"].lower() or "credentials" in stranger["message"]
    check(signed_in(technician).get(PEOPLE), 403, "not_permitted")
    header = {"Authorization": "Bearer rh_wrong"}
    refused = Client().get(PEOPLE, headers=header)
    check(refused, 401, "token_not_valid")
    assert refused.headers["WWW-Authenticate"] == "Bearer"


def test_a_request_without_its_csrf_token(administrator: User) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(administrator, backend="labsite.accounts.backends.LabBackend")
    check(post(strict, NEW), 403, "permission_denied")


@pytest.mark.parametrize(
    "address",
    [
        "/api/v1/nothing/",
        "/api/",
        "/api/v1/people/1/",
        f"/api/v1/people/{NOBODY}/",
    ],
)
def test_not_found(admin: Client, address: str) -> None:
    check(admin.get(address), 404, "not_found")


def test_a_method_that_is_not_served(admin: Client) -> None:
    answer = admin.delete(PEOPLE)
    check(answer, 405, "method_not_allowed")
    assert "GET" in answer.headers["Allow"]


@pytest.mark.parametrize("kind", ["text/plain", "application/xml", "multipart/form-data"])
def test_a_type_that_is_not_taken(admin: Client, kind: str) -> None:
    check(post(admin, "x", **{"Content-Type": kind}), 415, "unsupported_media_type")


def test_too_large(admin: Client, settings: Any) -> None:
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 100
    check(post(admin, {**NEW, "full_name": "x" * 200}), 413, "too_large")


def test_conflict(admin: Client, technician: User) -> None:
    body = check(post(admin, {**NEW, "username": "imre"}), 409, "username_taken")
    assert set(body["fields"]) == {"username"}


def test_stale_and_unconditional_changes(admin: Client, technician: User) -> None:
    address = f"{PEOPLE}{technician.pk}/"
    plain = {"content_type": "application/json"}
    check(admin.patch(address, "{}", **plain), 428, "if_match_required")
    stale = admin.patch(address, "{}", headers={"If-Match": '"old.1"'}, **plain)
    body = check(stale, 412, "stale")
    assert body["current"]["username"] == "imre"


def test_a_rule_that_is_broken(admin: Client, administrator: User) -> None:
    answer = admin.patch(
        f"{PEOPLE}{administrator.pk}/",
        json.dumps({"role": Role.MANAGER}),
        content_type="application/json",
        headers={"If-Match": administrator.etag},
    )
    check(answer, 422, "last_administrator")


@pytest.mark.parametrize(
    ("error", "status", "code"),
    [
        (RuntimeError("secret detail"), 500, "unexpected"),
        (OperationalError("database is locked"), 503, "busy"),
        (Http404("secret detail"), 404, "not_found"),
    ],
)
def test_what_breaks_inside(
    admin: Client, monkeypatch: Any, error: Exception, status: int, code: str
) -> None:
    def breaks(_person: Any) -> Any:
        raise error

    monkeypatch.setattr("labsite.accounts.api.views.actions_of", breaks)
    answer = admin.get("/api/v1/session/")
    body = check(answer, status, code)
    assert "secret" not in answer.text
    if status == 500:
        assert answer.headers["X-Request-Id"] in body["message"]
    if status == 503:
        assert answer.headers["Retry-After"] == "5"


def test_too_many_tries() -> None:
    answer = lockout.refuse(RequestFactory().post("/api/v1/session/"))
    body = json.loads(answer.content)
    assert (answer.status_code, body["code"], body["fields"]) == (429, "too_many_tries", {})
    assert answer.headers["Retry-After"] == "900"


def test_errors_of_the_list_of_entries(admin: Client) -> None:
    check(admin.get("/api/v1/history/?cursor=cD1hYmM%3D"), 404, "not_found")
    check(admin.get("/api/v1/history/?before=1"), 422, "unknown_field")


@pytest.mark.parametrize("address", ["/nothing/", "/people/1/", "/history/a/b/"])
def test_a_page_that_does_not_exist_is_told_as_a_page(admin: Client, address: str) -> None:
    answer = admin.get(address)
    assert answer.status_code == 404
    assert answer.headers["Content-Type"].startswith("text/html")
    assert "<h1>" in answer.text


def test_a_page_that_is_refused_tells_role_and_code(technician: User) -> None:
    answer = signed_in(technician).get("/people/")
    assert answer.status_code == 403
    assert "As technician you may not do this" in answer.text
    assert "not_permitted" in answer.text


def test_a_page_that_breaks_tells_what_to_quote(technician: User, monkeypatch: Any) -> None:
    def breaks(_person: Any) -> Any:
        raise RuntimeError("secret detail")

    monkeypatch.setattr("labsite.accounts.views.own_account.actions_of", breaks)
    answer = signed_in(technician).get("/account/")
    assert answer.status_code == 500
    assert "secret" not in answer.text
    assert answer.headers["X-Request-Id"] in answer.text


def test_names_of_people_cannot_inject_into_an_error(admin: Client) -> None:
    factories.make_person(username="bob")
    odd = {**NEW, "username": "bob", "full_name": "<script>alert(1)</script>"}
    answer = post(admin, odd)
    assert answer.headers["Content-Type"] == "application/json"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
