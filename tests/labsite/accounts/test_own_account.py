"""One's own account page, API tokens, and the table of roles."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from labsite.accounts.models import ApiToken, User
from labsite.accounts.roles import GRANTS, Action, Role
from labsite.accounts.tokens import make_token
from labsite.audit.models import AuditEntry
from labsite.clock import FixedClock

pytestmark = pytest.mark.django_db

TOKENS = "/account/tokens/"


def call(key: str) -> int:
    header = {"Authorization": f"Bearer {key}"}
    return Client().get("/api/v1/session/", headers=header).status_code


@pytest.mark.parametrize("address", ["/account/", TOKENS, "/roles/"])
def test_everybody_has_these_pages(browser: Any, everybody: list[User], address: str) -> None:
    assert {browser(person).get(address).status_code for person in everybody} == {200}
    assert browser(None).get(address).headers["Location"] == f"/sign-in/?next={address}"


def test_the_account_page_lists_what_the_role_allows(browser: Any, auditor: User) -> None:
    page = browser(auditor).get("/account/")
    assert set(page.context["allowed"]) == GRANTS[Role.AUDITOR]


def test_a_token_is_shown_once_and_kept_as_its_hash(browser: Any, technician: User) -> None:
    client = browser(technician)
    answer = client.post(TOKENS, {"name": "line 2"})
    key = answer.context["key"]
    assert key in answer.text
    token = ApiToken.objects.get()
    assert token.key_hash == hashlib.sha256(key.encode()).hexdigest()
    assert call(key) == 200
    assert key not in client.get(TOKENS).text
    assert not AuditEntry.objects.filter(body__contains=key).exists()
    assert not AuditEntry.objects.filter(body__contains=token.key_hash).exists()


def test_a_token_ends_with_its_last_day(browser: Any, technician: User) -> None:
    today = timezone.localdate()
    answer = browser(technician).post(TOKENS, {"name": "line 2", "ends_on": today.isoformat()})
    assert call(answer.context["key"]) == 200
    yesterday = (today - timedelta(days=1)).isoformat()
    refused = browser(technician).post(TOKENS, {"name": "line 3", "ends_on": yesterday})
    assert refused.status_code == 422
    assert "would have ended already" in refused.text


def test_a_token_that_has_ended_opens_nothing(technician: User) -> None:
    then = timezone.now() - timedelta(days=10)
    _token, key = make_token(
        actor=technician,
        name="short",
        expires_at=then + timedelta(days=1),
        clock=FixedClock(then, "test"),
    )
    assert call(key) == 401


def test_a_revoked_token_opens_nothing_and_stays_in_the_list(
    browser: Any, technician: User
) -> None:
    token, key = make_token(actor=technician, name="line 2")
    client = browser(technician)
    assert client.post(f"{TOKENS}{token.pk}/revoke/").status_code == 302
    assert call(key) == 401
    assert "revoked" in client.get(TOKENS).text


def test_others_tokens_do_not_exist(browser: Any, technician: User, other_technician: User) -> None:
    token, key = make_token(actor=technician, name="line 2")
    assert browser(other_technician).post(f"{TOKENS}{token.pk}/revoke/").status_code == 404
    assert call(key) == 200
    assert "line 2" not in browser(other_technician).get(TOKENS).text


def test_an_administrator_can_revoke_anybodys_token(
    browser: Any, technician: User, administrator: User
) -> None:
    token, key = make_token(actor=technician, name="line 2")
    browser(administrator).post(f"{TOKENS}{token.pk}/revoke/")
    assert call(key) == 401
    entry = AuditEntry.objects.filter(object_id=token.pk).order_by("-sequence")[0]
    assert entry.actor == administrator


def test_a_double_tap_makes_one_token(browser: Any, technician: User) -> None:
    client = browser(technician)
    client.post(TOKENS, {"name": "line 2"})
    second = client.post(TOKENS, {"name": "line 2"})
    assert second.status_code == 422
    assert "You have a token with this name" in second.text
    assert ApiToken.objects.count() == 1


@pytest.mark.parametrize(
    "fields",
    [
        {"name": ""},
        {"name": "x" * 10_000},
        {"name": "a\x00b"},
        {"name": "a\x1bb"},
        {"name": "ok", "ends_on": "30 Feb"},
    ],
)
def test_bad_input_is_refused_at_its_field(
    browser: Any, technician: User, fields: dict[str, str]
) -> None:
    assert browser(technician).post(TOKENS, fields).status_code == 422
    assert not ApiToken.objects.exists()


@pytest.mark.parametrize(
    "header",
    ["Bearer ", "Bearer x", "Bearer rh_00000000_" + "x" * 10_000, "Bearer \x7f", "Basic aTp4"],
)
def test_a_made_up_key_opens_nothing(db: Any, header: str) -> None:
    answer = Client().get("/api/v1/session/", headers={"Authorization": header})
    assert answer.status_code == 401
    assert answer.json()["code"] in ("token_not_valid", "not_signed_in")


def test_signing_other_devices_out_keeps_this_one(browser: Any, technician: User) -> None:
    here, there = browser(technician), browser(technician)
    assert here.post("/account/end-sessions/").status_code == 302
    assert here.get("/account/").status_code == 200
    assert there.get("/account/").status_code == 302


def test_the_table_of_roles_is_the_one_that_is_asked(browser: Any, technician: User) -> None:
    table = browser(technician).get("/roles/").context["table"]
    assert [row["action"] for row in table] == list(Action)
    for row in table:
        assert row["grants"] == [(role, row["action"] in GRANTS[role]) for role in Role]
