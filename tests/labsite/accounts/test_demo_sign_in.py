"""The demo's list of people: one tap lets a newcomer in; outside the demo it does not exist."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.test import Client

from labsite.accounts import audit_actions as actions
from labsite.accounts.models import User
from labsite.accounts.services import close_account, reset_password, system_user
from labsite.audit.models import AuditEntry

pytestmark = pytest.mark.django_db

URL = "/sign-in/demo/"


@pytest.fixture
def demo(settings: Any) -> None:
    settings.RESTHEIGHT_DEMO = True


def test_outside_the_demo_it_does_not_exist(client: Client, technician: User) -> None:
    assert client.post(URL, {"person": str(technician.pk)}).status_code == 404
    assert "_auth_user_id" not in client.session
    page = client.get("/sign-in/")
    assert "Imre" not in page.text
    assert URL not in page.text


def test_one_tap_signs_in(demo: None, client: Client, technician: User) -> None:
    assert client.post(URL, {"person": str(technician.pk)}).status_code == 302
    assert client.get("/account/").context["person"] == technician
    entry = AuditEntry.objects.get(action=actions.SIGNED_IN_DEMO)
    assert entry.actor == technician


def test_everybody_who_may_sign_in_is_listed_by_role(
    demo: None, client: Client, technician: User, manager: User, administrator: User
) -> None:
    close_account(actor=administrator, person=manager, reason="has left")
    groups = client.get("/sign-in/").context["demo_people"]
    assert [(role, group) for role, group in groups] == [
        ("technician", [technician]),
        ("administrator", [administrator]),
    ]


def test_a_person_with_a_borrowed_password_is_not_offered(
    demo: None, client: Client, technician: User, administrator: User
) -> None:
    reset_password(actor=administrator, person=technician)
    assert client.post(URL, {"person": str(technician.pk)}).status_code == 404


def test_nobody_else_is_let_in(demo: None, client: Client, administrator: User) -> None:
    for wanted in (str(system_user().pk), str(uuid.uuid4()), "", "x", "\x00", "1" * 10_000):
        assert client.post(URL, {"person": wanted}).status_code == 404
    assert "_auth_user_id" not in client.session


def test_it_takes_a_post_with_a_token(demo: None, technician: User) -> None:
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(URL, {"person": str(technician.pk)}).status_code == 403
    assert strict.get(URL).status_code == 405


def test_next_leads_nowhere_else(demo: None, client: Client, technician: User) -> None:
    answer = client.post(URL, {"person": str(technician.pk), "next": "//elsewhere.example"})
    assert answer.headers["Location"] == "/"


def test_the_session_gets_a_new_key_when_the_person_changes(
    demo: None, client: Client, technician: User, manager: User
) -> None:
    client.post(URL, {"person": str(technician.pk)})
    before = client.session.session_key
    client.post(URL, {"person": str(manager.pk)})
    assert client.session.session_key != before
    assert client.get("/account/").context["person"] == manager
