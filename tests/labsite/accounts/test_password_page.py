"""Changing one's own password, by choice or because the present one is borrowed."""

from __future__ import annotations

from typing import Any

import pytest
from axes.models import AccessAttempt
from django.test import Client

from labsite.accounts import audit_actions as actions
from labsite.accounts.models import User
from labsite.accounts.services import reset_password
from labsite.accounts.tokens import make_token
from labsite.audit.models import AuditEntry

pytestmark = pytest.mark.django_db

URL = "/account/password/"
OLD, NEW = "correct horse battery", "seven quiet glass floats"


def sign_in(client: Client, name: str, password: str = OLD) -> Any:
    return client.post("/sign-in/", {"username": name, "password": password})


def choose(client: Client, old: str = OLD, new: str = NEW, again: str | None = None) -> Any:
    return client.post(URL, {"old": old, "new": new, "again": new if again is None else again})


def test_the_new_password_works_and_the_old_one_does_not(client: Client, technician: User) -> None:
    sign_in(client, "imre")
    assert choose(client).status_code == 302
    assert client.get("/account/").status_code == 200  # this device stays signed in
    fresh = Client()
    assert sign_in(fresh, "imre", OLD).status_code == 422
    assert sign_in(fresh, "imre", NEW).status_code == 302
    entry = AuditEntry.objects.get(action=actions.PASSWORD_CHANGED)
    assert entry.facts["new"]["password"] == "masked"
    assert NEW not in entry.body


def test_it_signs_the_other_devices_out(client: Client, technician: User) -> None:
    other = Client()
    sign_in(client, "imre")
    sign_in(other, "imre")
    choose(client)
    assert other.get("/account/").status_code == 302


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"old": "wrong"}, "The present password is not right."),
        ({"new": "short"}, "too easy to guess"),
        ({"new": "1q2w3e4r5t6y"}, "too easy to guess"),
        ({"new": OLD}, "differs from the present one"),
        ({"again": "another one entirely"}, "differs from the new password"),
        ({"new": ""}, "required"),
        ({"new": "\x00" * 12}, "Null characters"),
        ({"new": "x" * 10_000}, "at most 200"),
    ],
)
def test_a_refusal_says_why_and_changes_nothing(
    client: Client, technician: User, fields: dict[str, str], told: str
) -> None:
    sign_in(client, "imre")
    answer = choose(client, **fields)
    assert answer.status_code == 422
    assert told in answer.text
    technician.refresh_from_db()
    assert technician.check_password(OLD)
    assert not AuditEntry.objects.filter(action=actions.PASSWORD_CHANGED).exists()


def test_the_first_wrong_field_takes_the_focus_and_names_its_error(
    client: Client, technician: User
) -> None:
    sign_in(client, "imre")
    page = choose(client, old="wrong").text
    field = page[page.index('name="old"') - 200 : page.index('name="old"') + 300]
    assert "autofocus" in field
    assert 'aria-invalid="true"' in field
    assert 'aria-describedby="id_old_error"' in field
    assert 'id="id_old_error"' in page


def test_guessing_the_old_password_here_is_limited_too(client: Client, technician: User) -> None:
    sign_in(client, "imre")
    statuses = [choose(client, old="wrong").status_code for _try in range(5)]
    assert statuses == [422, 422, 422, 422, 429]
    attempt = AccessAttempt.objects.get()
    assert NEW not in attempt.post_data


@pytest.fixture
def borrowed(administrator: User, technician: User) -> str:
    return reset_password(actor=administrator, person=technician)


def test_a_borrowed_password_opens_only_the_page_for_a_new_one(
    client: Client, technician: User, borrowed: str
) -> None:
    sign_in(client, "imre", borrowed)
    for address in ("/account/", "/account/tokens/", "/history/", "/roles/"):
        answer = client.get(address)
        assert (answer.status_code, answer.headers.get("Location")) == (302, URL)
    assert client.post("/account/tokens/", {"name": "x"}).status_code == 302
    assert not technician.tokens.exists()
    assert client.get("/api/v1/session/").json()["code"] == "password_must_change"
    assert client.get(URL).status_code == 200


def test_after_the_change_everything_opens(client: Client, technician: User, borrowed: str) -> None:
    sign_in(client, "imre", borrowed)
    assert choose(client, old=borrowed).status_code == 302
    assert client.get("/account/").status_code == 200


def test_a_person_with_a_borrowed_password_can_sign_out(
    client: Client, technician: User, borrowed: str
) -> None:
    sign_in(client, "imre", borrowed)
    assert client.post("/sign-out/").headers["Location"] == "/sign-in/"
    assert "_auth_user_id" not in client.session


def test_tokens_go_on_through_a_reset(
    client: Client, technician: User, administrator: User
) -> None:
    """A program that works in a person's name does not stop because the person forgot a word."""
    _token, key = make_token(actor=technician, name="line 2")
    reset_password(actor=administrator, person=technician)
    answer = client.get("/api/v1/session/", headers={"Authorization": f"Bearer {key}"})
    assert answer.status_code == 200


def test_a_stranger_is_sent_to_the_sign_in(client: Client, db: Any) -> None:
    assert choose(client).headers["Location"].startswith("/sign-in/")
