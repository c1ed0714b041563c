"""The sign-in page: who gets in, what a refusal tells, and what the history keeps of it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone

from labsite.accounts import audit_actions as actions
from labsite.accounts.models import User
from labsite.accounts.services import close_account, reset_password, system_user
from labsite.audit.models import AuditEntry
from tests import factories

pytestmark = pytest.mark.django_db

URL = "/sign-in/"
PASSWORD = "correct horse battery"
REFUSAL = "This name and password do not belong together."


def enter(client: Client, name: str, password: str = PASSWORD, **more: str) -> Any:
    return client.post(URL, {"username": name, "password": password, **more})


def entries(action: str) -> list[AuditEntry]:
    return list(AuditEntry.objects.filter(action=action))


def test_the_right_name_and_password_let_in(client: Client, technician: User) -> None:
    answer = enter(client, "imre")
    assert (answer.status_code, answer.headers["Location"]) == (302, settings.LOGIN_REDIRECT_URL)
    assert client.get("/account/").status_code == 200
    (entry,) = entries(actions.SIGNED_IN)
    assert (entry.object_id, entry.actor_id) == (technician.pk, technician.pk)


@pytest.mark.parametrize("typed", ["Imre", " IMRE ", "imre"])
def test_the_name_may_be_typed_in_any_case(client: Client, technician: User, typed: str) -> None:
    assert enter(client, typed).status_code == 302


def test_wrong_name_and_wrong_password_read_the_same(client: Client, technician: User) -> None:
    wrong_password = enter(client, "imre", "wrong")
    wrong_name = enter(client, "nobody", "wrong")
    for answer in (wrong_password, wrong_name):
        assert answer.status_code == 422
        assert REFUSAL in answer.text
        assert "_auth_user_id" not in client.session


def test_a_refusal_of_a_known_person_is_recorded_in_the_apps_name(
    client: Client, technician: User
) -> None:
    enter(client, "imre", "wrong")
    enter(client, "nobody", "wrong")
    (entry,) = entries(actions.SIGN_IN_REFUSED)
    assert entry.object_id == technician.pk
    assert entry.actor == system_user()
    assert entry.facts["noted"] == {"why": "wrong_password", "address": "127.0.0.1"}


def test_closed_ended_and_system_accounts_never_get_in(
    client: Client, technician: User, administrator: User
) -> None:
    factories.make_person(username="paula", ends_on=timezone.localdate() - timedelta(days=1))
    close_account(actor=administrator, person=technician, reason="has left")
    app = system_user()
    app.set_password(PASSWORD)
    User.objects.filter(pk=app.pk).update(password=app.password)
    for name in ("imre", "paula", "restheight"):
        answer = enter(client, name)
        assert (answer.status_code, REFUSAL in answer.text) == (422, True)
    noted = {entry.facts["noted"]["why"] for entry in entries(actions.SIGN_IN_REFUSED)}
    assert noted == {"account_closed_or_ended"}


def test_an_account_works_through_its_last_day(client: Client, db: Any) -> None:
    factories.make_person(username="paula", ends_on=timezone.localdate())
    assert enter(client, "paula").status_code == 302


def test_five_wrong_tries_lock_the_name_and_then_the_right_password_fails(
    client: Client, technician: User
) -> None:
    for _try in range(4):
        assert enter(client, "imre", "wrong").status_code == 422
    locked = enter(client, "imre", "wrong")
    assert locked.status_code == 429
    assert "Too many wrong passwords" in locked.text
    assert locked.headers["Retry-After"] == "900"
    assert enter(client, "imre").status_code == 429
    assert "_auth_user_id" not in client.session
    assert len(entries(actions.SIGN_IN_REFUSED)) == 5  # tries while locked add nothing


def test_spelling_the_name_otherwise_gives_no_further_tries(
    client: Client, technician: User
) -> None:
    for name in ("imre", "Imre", " IMRE", "iMre ", "imrE"):
        answer = enter(client, name, "wrong")
    assert answer.status_code == 429


def test_the_lock_of_one_name_leaves_others_alone(
    client: Client, technician: User, other_technician: User
) -> None:
    for _try in range(6):
        enter(client, "imre", "wrong")
    assert enter(client, "salma").status_code == 302


def test_a_new_password_from_the_administrator_lifts_the_lock(
    client: Client, technician: User, administrator: User
) -> None:
    for _try in range(6):
        enter(client, "imre", "wrong")
    password = reset_password(actor=administrator, person=technician)
    assert enter(client, "imre", password).status_code == 302


def test_a_right_password_forgets_earlier_wrong_ones(client: Client, technician: User) -> None:
    for _round in range(2):
        for _try in range(4):
            assert enter(client, "imre", "wrong").status_code == 422
        assert enter(client, "imre").status_code == 302
        client.post("/sign-out/")


def test_the_sessions_key_changes_at_sign_in(client: Client, technician: User) -> None:
    session = client.session
    session["planted"] = "by somebody else"
    session.save()
    before = session.session_key
    enter(client, "imre")
    assert client.session.session_key != before


@pytest.mark.parametrize(
    "wanted",
    [
        "https://elsewhere.example/",
        "//elsewhere.example/",
        "/\\elsewhere.example",
        "javascript:alert(1)",
        "http:///elsewhere.example",
    ],
)
def test_next_leads_nowhere_else(client: Client, technician: User, wanted: str) -> None:
    answer = enter(client, "imre", next=wanted)
    assert answer.headers["Location"] == settings.LOGIN_REDIRECT_URL


def test_next_leads_to_the_page_that_was_asked_for(client: Client, technician: User) -> None:
    asked = client.get("/account/tokens/")
    assert asked.headers["Location"] == "/sign-in/?next=/account/tokens/"
    page = client.get(asked.headers["Location"])
    assert '<input type="hidden" name="next" value="/account/tokens/">' in page.text
    assert enter(client, "imre", next="/account/tokens/").headers["Location"] == "/account/tokens/"


def test_somebody_who_is_signed_in_goes_on(client: Client, technician: User) -> None:
    enter(client, "imre")
    assert client.get(URL).status_code == 302


@pytest.mark.parametrize(
    ("name", "password"),
    [
        ("", ""),
        ("imre", ""),
        ("\x00imre", "x"),
        ("imre", "\x00"),
        ("<script>alert(1)</script>", "x"),
        ("x" * 10_000, "x"),
        ("imre", "x" * 10_000),
        ("' OR 1=1 --", "x"),
        ("İmre\u202e", "x"),
    ],
)
def test_odd_input_is_refused_and_shown_as_text(
    client: Client, technician: User, name: str, password: str
) -> None:
    answer = enter(client, name, password)
    assert answer.status_code == 422
    assert "<script>alert" not in answer.text
    assert "_auth_user_id" not in client.session


def test_the_password_stays_out_of_the_page_and_of_the_lockouts_table(
    client: Client, technician: User
) -> None:
    from axes.models import AccessAttempt

    secret = "my other secret pass"
    assert secret not in enter(client, "imre", secret).text
    assert not AccessAttempt.objects.filter(post_data__contains=secret).exists()


def test_the_form_carries_its_csrf_token(technician: User) -> None:
    strict = Client(enforce_csrf_checks=True)
    assert enter(strict, "imre").status_code == 403
    page = strict.get(URL)
    token = page.context["csrf_token"]
    answer = enter(strict, "imre", csrfmiddlewaretoken=str(token))
    assert answer.status_code == 302


def test_sign_out_needs_a_post_and_is_recorded(client: Client, technician: User) -> None:
    enter(client, "imre")
    assert client.get("/sign-out/").status_code == 405
    assert client.get("/account/").status_code == 200
    answer = client.post("/sign-out/")
    assert answer.headers["Location"] == URL
    assert client.get("/account/").status_code == 302
    (entry,) = entries(actions.SIGNED_OUT)
    assert entry.actor == technician


def test_pages_of_a_person_are_not_kept_by_the_browser(client: Client, technician: User) -> None:
    enter(client, "imre")
    assert client.get("/account/").headers["Cache-Control"] == "private, no-store"
