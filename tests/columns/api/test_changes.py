"""Every PATCH: with the version that was seen, with a reason, and for the right people."""

from __future__ import annotations

from typing import Any

import pytest

from columns.models import Fill
from columns.selectors.rules import lab_rules
from columns.services.baths import add_thermometer
from labsite.accounts.audit_actions import ACTION_REFUSED
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from tests import factories

pytestmark = pytest.mark.django_db

REASON = {"reason": "a real reason"}
CASES: dict[str, dict[str, Any]] = {
    "baths": {"note": "new pump"},
    "thermometers": {"issuer": "Harrow Fell Calibration"},
    "columns": {"name": "Ash one"},
    "pairs": {"cautions": "Flammable vapour."},
    "fills": {"note": "flask 3"},
    "floats": {"note": "green tip"},
    "certificates": {"issuer": "Harrow Fell"},
    "rules": {"pass_hold_off_hours": 24},
}


@pytest.fixture
def paths(open_fill: Fill, shift_lead: User) -> dict[str, str]:
    each = open_fill.placements.first().calibration_float
    rows = {
        "baths": open_fill.column.bath,
        "thermometers": add_thermometer(actor=shift_lead, name="T-1"),
        "columns": open_fill.column,
        "pairs": open_fill.pair,
        "fills": open_fill,
        "floats": each,
        "certificates": each.certificates.get(),
    }
    lab_rules()
    return {name: f"/api/v1/{name}/{row.pk}/" for name, row in rows.items()} | {
        "rules": "/api/v1/rules/"
    }


@pytest.mark.parametrize("name", CASES)
def test_a_row_is_changed_by_who_saw_it_and_says_why(
    as_manager: Any,
    as_nobody: Any,
    as_person: Any,
    auditor: User,
    paths: dict[str, str],
    name: str,
) -> None:
    """One lab for all of it: the same change is refused in every way, then made, then stale."""
    path, change = paths[name], CASES[name]
    body = {**change, **REASON}
    seen = as_manager.get(path)
    etag = seen.headers["ETag"]
    before = AuditEntry.objects.exclude(action=ACTION_REFUSED).count()

    blind = as_manager.patch(path, body)
    assert (blind.status_code, blind.json()["code"]) == (428, "if_match_required")
    for wordless in (change, {**change, "reason": "."}, {**change, "reason": "  "}):
        refused = as_manager.patch(path, wordless, etag=etag)
        assert (refused.status_code, list(refused.json()["fields"])) == (422, ["reason"])
    assert as_person(auditor).patch(path, body, etag=etag).status_code == 403
    assert as_nobody.patch(path, body, etag=etag).status_code == 401
    assert as_manager.delete(path).status_code == 405
    assert as_manager.put(path, body).status_code == 405
    assert AuditEntry.objects.exclude(action=ACTION_REFUSED).count() == before

    done = as_manager.patch(path, body, etag=etag)
    assert done.status_code == 200, done.json()
    assert done.json()["version"] == seen.json()["version"] + 1
    assert done.headers["ETag"] != etag
    stale = as_manager.patch(path, body, etag=etag)
    assert (stale.status_code, stale.json()["code"]) == (412, "stale")
    assert stale.json()["current"] == done.json()
    _assert_told(seen.json(), change)


def _assert_told(seen: dict[str, Any], change: dict[str, Any]) -> None:
    entry = AuditEntry.objects.filter(object_id=seen["id"]).order_by("sequence").last()
    assert entry.reason == "a real reason"
    for name, value in change.items():
        assert str(entry.facts["old"][name]) == str(seen[name])
        assert str(entry.facts["new"][name]) == str(value)


def test_a_shift_lead_does_not_change_rules(as_lead: Any, paths: dict[str, str]) -> None:
    etag = as_lead.get(paths["rules"]).headers["ETag"]
    body = {"minimum_floats": 4, **REASON}
    assert as_lead.patch(paths["rules"], body, etag=etag).status_code == 403


def test_a_float_outside_the_rules_range_is_told_by_field(
    as_manager: Any, paths: dict[str, str]
) -> None:
    etag = as_manager.get(paths["rules"]).headers["ETag"]
    answer = as_manager.patch(paths["rules"], {"minimum_floats": 1, **REASON}, etag=etag)
    assert (answer.status_code, answer.json()["code"]) == (422, "rule_out_of_range")
    assert list(answer.json()["fields"]) == ["minimum_floats"]


def test_a_row_of_nowhere_is_not_found(as_manager: Any, paths: dict[str, str]) -> None:
    other = factories.make_person(username="nkechi")
    for name in CASES.keys() - {"rules"}:
        assert as_manager.get(f"/api/v1/{name}/{other.pk}/").status_code == 404
