"""The history through the API: filters, paging, what is hidden, and whether it holds."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone

from labsite.accounts import audit_actions as actions
from labsite.accounts.models import User
from labsite.accounts.services import add_person, change_person, close_account
from labsite.audit import masking
from labsite.audit.digests import seal_digest
from labsite.audit.models import AuditEntry
from labsite.audit.services import change
from labsite.clock import FixedClock
from tests import factories

pytestmark = pytest.mark.django_db

URL = "/api/v1/history/"


@pytest.fixture
def bea(administrator: User) -> User:
    person = add_person(
        actor=administrator, username="bea", full_name="Bea", role="technician", email="b@lab.test"
    )
    change_person(actor=administrator, person=person, full_name="Bea Lind")
    return close_account(actor=administrator, person=person, reason="has left us")


def rows(client: Any, **filters: Any) -> list[dict[str, Any]]:
    answer = client.get(URL, filters)
    assert answer.status_code == 200, answer.text
    return answer.json()["results"]


def test_an_entry_tells_all(as_person: Any, administrator: User, bea: User) -> None:
    newest = rows(as_person(administrator), object_id=bea.pk)[0]
    assert newest["action"] == actions.PERSON_CLOSED
    assert newest["sentence"] == "closed the account"
    assert newest["actor"] == str(administrator.pk)
    assert newest["actor_name"] == "Yuki"
    assert newest["actor_role"] == "administrator"
    assert newest["reason"] == "has left us"
    assert newest["object_label"] == "Bea Lind"
    assert newest["old"] == {"is_active": True, "sessions_ended": 0, "version": 2}
    assert newest["new"] == {"is_active": False, "sessions_ended": 1, "version": 3}
    assert (newest["clock"], newest["device_at"], newest["masked"]) == ("server", None, False)


def test_the_devices_own_time_and_another_clock_are_told(
    as_person: Any, administrator: User
) -> None:
    at = datetime(2026, 3, 1, 7, 5, tzinfo=UTC)
    with change(
        actor=administrator,
        clock=FixedClock(at, "demo loader"),
        device_at=at + timedelta(minutes=2),
    ) as log:
        log.note(administrator, actions.SIGNED_IN)
    newest = rows(as_person(administrator))[0]
    assert newest["at"] == "2026-03-01T07:05:00Z"
    assert newest["device_at"] == "2026-03-01T07:07:00.000000Z"
    assert newest["clock"] == "demo loader"


def test_filters_narrow_down(as_person: Any, administrator: User, technician: User, bea: User):
    client = as_person(administrator)
    assert {r["object_id"] for r in rows(client, object_id=bea.pk)} == {str(bea.pk)}
    assert {r["action"] for r in rows(client, action=actions.PERSON_CLOSED)} == {
        actions.PERSON_CLOSED
    }
    assert {r["actor_name"] for r in rows(client, actor=administrator.pk)} == {"Yuki"}
    assert rows(client, object_type="accounts.apitoken") == []
    both = rows(client, object_type="accounts.user", action=actions.PERSON_CHANGED)
    assert [r["new"]["full_name"] for r in both] == ["Bea Lind"]


def test_times_narrow_down(as_person: Any, administrator: User, bea: User) -> None:
    client = as_person(administrator)
    now = timezone.now()
    everything = len(rows(client))
    assert len(rows(client, **{"from": (now - timedelta(hours=1)).isoformat()})) == everything
    assert rows(client, **{"from": (now + timedelta(hours=1)).isoformat()}) == []
    assert rows(client, to=(now - timedelta(hours=1)).isoformat()) == []


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ({"object_typ": "accounts.user"}, "object_typ"),
        ({"object_id": "1"}, "object_id"),
        ({"actor": "' OR 1=1 --"}, "actor"),
        ({"action": "accounts.person.eaten"}, "action"),
        ({"from": "yesterday"}, "from"),
        ({"from": "2026-01-01T00:00:00"}, "from"),
        ({"to": "2026-02-30T00:00:00Z"}, "to"),
        ({"object_type": "x" * 10_000}, "object_type"),
        ({"object_type": "\x00"}, "object_type"),
        (
            {"from": "2026-02-01T00:00:00+00:00", "to": "2026-01-01T00:00:00+00:00"},
            "to",
        ),
    ],
)
def test_a_filter_that_is_not_right_is_refused(
    as_person: Any, administrator: User, query: dict[str, str], field: str
) -> None:
    answer = as_person(administrator).get(URL, query)
    assert answer.status_code == 422
    assert field in answer.json()["fields"]


@pytest.mark.parametrize("cursor", ["x", "cD0x", "%00", "cD1hYmM=", "cD0tMQ==", "é" * 50])
def test_a_made_up_cursor_is_no_error_of_ours(
    as_person: Any, administrator: User, cursor: str
) -> None:
    assert as_person(administrator).get(URL, {"cursor": cursor}).status_code in (200, 404, 422)


def test_pages_hold_every_entry_once(as_person: Any, administrator: User, bea: User) -> None:
    client = as_person(administrator)
    seen, address = [], f"{URL}?page_size=2"
    while address:
        page = client.get(address).json()
        seen += [row["id"] for row in page["results"]]
        address = page["next"]
    assert seen == list(AuditEntry.objects.order_by("-id").values_list("pk", flat=True))


def test_a_page_is_never_larger_than_200(as_person: Any, administrator: User) -> None:
    assert as_person(administrator).get(URL, {"page_size": "1000000000"}).status_code == 200


def test_a_page_costs_a_fixed_number_of_queries(
    as_person: Any, administrator: User, bea: User, django_assert_max_num_queries: Any
) -> None:
    client = as_person(administrator)
    with django_assert_max_num_queries(3):
        client.get(URL)


def test_accounts_of_others_are_told_without_values(
    as_person: Any, technician: User, bea: User
) -> None:
    for row in rows(as_person(technician), object_id=bea.pk):
        assert row["masked"] is True
        assert (row["old"], row["new"], row["noted"], row["reason"]) == ({}, {}, {}, "")
        assert row["actor_name"]
    text = as_person(technician).get(URL).text
    assert "b@lab.test" not in text
    assert "has left us" not in text


def test_ones_own_account_is_told_in_full(as_person: Any, technician: User) -> None:
    (row,) = rows(as_person(technician), object_id=technician.pk)
    assert row["masked"] is False
    assert row["new"]["username"] == "imre"


def test_those_who_check_see_all(as_person: Any, auditor: User, manager: User, bea: User) -> None:
    for person in (auditor, manager):
        assert not any(row["masked"] for row in rows(as_person(person), object_id=bea.pk))


def test_a_rule_of_an_app_hides_its_entries(
    as_person: Any, administrator: User, bea: User, monkeypatch: Any
) -> None:
    monkeypatch.setitem(masking._RULES, "accounts.user", [])
    masking.register(
        "accounts.user", lambda person, entries: {e.pk for e in entries if e.sequence == 2}
    )
    told = rows(as_person(administrator), object_id=bea.pk)
    assert [(row["sequence"], row["masked"]) for row in told] == [(3, False), (2, True), (1, False)]


def test_everybody_signed_in_may_look_and_nobody_may_change(
    as_person: Any, technician: User, auditor: User
) -> None:
    for person in (technician, auditor):
        client = as_person(person)
        assert client.get(URL).status_code == 200
        assert client.post(URL, {}).status_code == 405
        assert client.delete(URL).status_code == 405
    assert as_person(None).get(URL).status_code == 401


def test_an_unknown_object_has_no_entries(as_person: Any, technician: User) -> None:
    assert rows(as_person(technician), object_id=uuid.uuid4()) == []


def test_a_code_of_an_older_version_is_still_told(as_person: Any, administrator: User) -> None:
    from labsite.audit.wording import sentence

    assert sentence("lab.something.old") == "lab.something.old"


VERIFICATION = f"{URL}verification/"


def test_a_verification_runs_and_its_result_is_kept(
    as_person: Any, administrator: User, bea: User
) -> None:
    client = as_person(administrator)
    assert client.get(VERIFICATION).status_code == 404
    seal_digest()
    result = client.post(VERIFICATION, {}).json()
    assert (result["holds"], result["findings"], result["digests"]) == (True, [], 1)
    assert result["entries"] >= 5
    assert result["by"] == "Yuki"
    assert client.get(VERIFICATION).json() == result


def test_a_verification_tells_what_was_altered(
    as_person: Any, administrator: User, bea: User
) -> None:
    User.objects.filter(pk=bea.pk).update(role="manager")
    result = as_person(administrator).post(VERIFICATION, {}).json()
    assert result["holds"] is False
    assert [finding["code"] for finding in result["findings"]] == ["row_changed"]
    assert "Bea Lind" in result["findings"][0]["where"]


def test_findings_that_are_not_listed_are_counted(as_person: Any, administrator: User) -> None:
    for number in range(60):
        factories.make_person(username=f"p{number}")
    User.objects.filter(username__startswith="p").update(email="x@lab.test")
    result = as_person(administrator).post(VERIFICATION, {}).json()
    assert (len(result["findings"]), result["findings_in_all"]) == (50, 60)


def test_who_may_verify(
    as_person: Any, technician: User, shift_lead: User, manager: User, auditor: User
) -> None:
    for person, status in ((technician, 403), (shift_lead, 403), (manager, 200), (auditor, 200)):
        assert as_person(person).post(VERIFICATION, {}).status_code == status
    assert as_person(None).post(VERIFICATION, {}).status_code == 401


def test_digests_are_listed_with_what_they_hash(
    as_person: Any, auditor: User, technician: User, bea: User
) -> None:
    digest = seal_digest()
    (row,) = as_person(auditor).get(f"{URL}digests/").json()["results"]
    assert (row["number"], row["hash"], row["body"]) == (1, digest.hash, digest.body)
    assert as_person(technician).get(f"{URL}digests/").status_code == 403
