"""Determinations over the API: prepared, ready, released, amended; nothing changed in place."""

from __future__ import annotations

import json
from typing import Any

import pytest

from columns.models import Fill, FloatSet
from labsite.accounts.models import User
from labsite.audit import masking
from labsite.audit.models import AuditEntry
from samples.models import Determination, Lot
from tests import factories

pytestmark = pytest.mark.django_db
PATH = "/api/v1/determinations/"


@pytest.fixture
def readings(technician: User, lot: Lot, fill: Fill) -> list[Any]:
    return factories.make_read_lot(actor=technician, lot=lot, fill=fill)


@pytest.fixture
def ready(technician: User, lot: Lot, readings: list[Any]) -> Determination:
    return factories.make_determination(actor=technician, lot=lot)


def test_from_readings_to_a_released_number(
    as_person: Any, technician: User, shift_lead: User, lot: Lot, readings: list[Any]
) -> None:
    imre, ruta = as_person(technician), as_person(shift_lead)
    draft = imre.post(PATH, {"lot": str(lot.pk)})
    assert draft.status_code == 201
    body = draft.json()
    assert body["reported"] == {
        "density_g_cm3": "0.9182",
        "expanded_uncertainty_g_cm3": body["reported"]["expanded_uncertainty_g_cm3"],
    }
    assert body["density_g_cm3"] == "0.9182361"
    assert body["decision"] == {"code": "not_decided", "word": "not decided"}
    assert [part["is_counted"] for part in body["parts"]] == [True] * 3
    assert {part["name"] for part in body["budget"]} == {"floats", "scatter", "temperature"}
    assert imre.post(f"{PATH}{body['id']}/ready/", {}).json()["status"] == "ready"
    released = ruta.post(f"{PATH}{body['id']}/release/", {"note": ""})
    assert released.status_code == 200
    assert released.json()["released_by"]["name"] == "Ruta"
    assert ruta.get(f"/api/v1/lots/{lot.pk}/").json()["determination"]["status"] == "released"


def test_preparing_needs_a_key_and_repeats_without_effect(
    as_person: Any, technician: User, lot: Lot, readings: list[Any]
) -> None:
    client = as_person(technician)
    missing = client.post(PATH, {"lot": str(lot.pk)}, HTTP_IDEMPOTENCY_KEY="")
    assert (missing.status_code, missing.json()["code"]) == (400, "idempotency_key_required")
    first = client.post(PATH, {"lot": str(lot.pk)}, HTTP_IDEMPOTENCY_KEY="p-1")
    again = client.post(PATH, {"lot": str(lot.pk)}, HTTP_IDEMPOTENCY_KEY="p-1")
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["id"] == again.json()["id"]
    assert Determination.objects.count() == 1


def test_who_may_release(
    as_person: Any, technician: User, auditor: User, ready: Determination
) -> None:
    path = f"{PATH}{ready.pk}/release/"
    assert as_person(None).post(path, {}).status_code == 401
    for person in (technician, auditor):
        refused = as_person(person).post(path, {})
        assert (refused.status_code, refused.json()["code"]) == (403, "not_permitted")
        entry = AuditEntry.objects.filter(action="accounts.action.refused").first()
        assert entry.actor == person
    ready.refresh_from_db()
    assert ready.status == "ready"


def test_a_lead_does_not_release_what_was_read_by_that_lead(
    as_person: Any, technician: User, shift_lead: User, lot: Lot, fill: Fill
) -> None:
    factories.make_read_lot(actor=technician, lot=lot, fill=fill, reader=shift_lead)
    ready = factories.make_determination(actor=technician, lot=lot)
    refused = as_person(shift_lead).post(f"{PATH}{ready.pk}/release/", {})
    assert (refused.status_code, refused.json()["code"]) == (403, "own_reading")
    assert AuditEntry.objects.filter(action="accounts.action.refused").exists()


def test_a_released_one_is_amended_not_changed_or_deleted(
    as_person: Any, shift_lead: User, manager: User, ready: Determination
) -> None:
    ruta = as_person(shift_lead)
    ruta.post(f"{PATH}{ready.pk}/release/", {})
    changed = ruta.patch(f"{PATH}{ready.pk}/", {"density_g_cm3": "0.9"}, etag='"x"')
    assert (changed.status_code, changed.json()["code"]) == (409, "amend_instead")
    assert ruta.delete(f"{PATH}{ready.pk}/").status_code == 405
    blank = ruta.post(f"{PATH}{ready.pk}/amend/", {"reason": "."})
    assert (blank.status_code, blank.json()["code"]) == (422, "reason_required")
    amended = ruta.post(f"{PATH}{ready.pk}/amend/", {"reason": "wrong thermometer named"})
    assert amended.status_code == 201
    assert (amended.json()["issue"], amended.json()["amends"]) == (2, str(ready.pk))
    old = ruta.get(f"{PATH}{ready.pk}/").json()
    assert (old["status"], old["amended_by"]) == ("amended", amended.json()["id"])
    issues = ruta.get(f"{PATH}{ready.pk}/facts/").json()["issues"]
    assert [each["status"] for each in issues] == ["amended", "ready"]


def test_the_facts_lead_back_to_heights_floats_and_certificates(
    as_person: Any, auditor: User, ready: Determination
) -> None:
    facts = as_person(auditor).get(f"{PATH}{ready.pk}/facts/").json()
    assert [part["height_mm"] for part in facts["parts"]] == ["455.00", "456.00", "454.50"]
    assert facts["parts"][0]["read_by"]["name"] == "Imre"
    calibration = facts["calibrations"][0]
    assert calibration["bath_temperature_c"] == "23.00"
    assert len(calibration["floats"]) == 9
    first = calibration["floats"][0]
    assert (first["label"], first["density_g_cm3"]) == ("F-101", "0.9051")
    assert first["certificate_number"]
    assert first["residual_mm"] is not None
    assert facts["inputs"]["counted"]
    assert facts["results"]["density_exact"].count("/") == 1
    assert facts["recipe"]["form"] == "pellet"


def test_one_set_aside_without_a_reason_is_refused_naming_it(
    as_person: Any, technician: User, lot: Lot, readings: list[Any]
) -> None:
    counted = [str(reading.specimen_id) for reading in readings[:2]]
    answer = as_person(technician).post(PATH, {"lot": str(lot.pk), "counted": counted})
    assert (answer.status_code, answer.json()["code"]) == (422, "specimens_unaccounted")
    assert answer.json()["specimens"] == [str(readings[2].specimen_id)]
    assert not Determination.objects.exists()


def test_a_lot_tested_before_says_why_it_is_repeated(
    as_person: Any, technician: User, shift_lead: User, lot: Lot, fill: Fill, ready: Determination
) -> None:
    as_person(shift_lead).post(f"{PATH}{ready.pk}/release/", {})
    factories.make_read_lot(actor=technician, lot=lot, fill=fill)
    client = as_person(technician)
    asked = client.post(PATH, {"lot": str(lot.pk)})
    assert (asked.status_code, asked.json()["code"]) == (422, "repeat_because_required")
    assert asked.json()["earlier"] == str(ready.pk)
    repeat = client.post(PATH, {"lot": str(lot.pk), "repeat_because": "customer asked for it"})
    assert repeat.json()["number"] == 2


def test_without_limits_the_word_is_no_rule(
    as_person: Any, technician: User, manager: User, fill: Fill
) -> None:
    grade = factories.make_grade(
        actor=manager, name="Experiment", lower_limit_g_cm3=None, upper_limit_g_cm3=None
    )
    lot = factories.make_lot(actor=technician, grade=grade, code="EX-1A")
    factories.make_read_lot(actor=technician, lot=lot, fill=fill)
    body = as_person(technician).post(PATH, {"lot": str(lot.pk)}).json()
    assert body["decision"] == {"code": "no_rule", "word": "no rule"}
    assert "pass" not in json.dumps(body).lower()


def test_whoever_is_blind_to_the_lot_sees_no_number_of_it(
    as_person: Any, technician: User, lot: Lot, fill: Fill, ready: Determination
) -> None:
    factories.make_specimens(actor=technician, lot=lot, fill=fill, count=1)
    imre = as_person(technician)
    float_set = FloatSet.objects.order_by("-read_at").first()
    for place in (
        PATH,
        f"{PATH}{ready.pk}/",
        f"{PATH}{ready.pk}/facts/",
        f"/api/v1/lots/{lot.pk}/",
        f"/api/v1/float-sets/{float_set.pk}/amendment-preview/",
    ):
        answer = imre.get(place)
        assert answer.status_code == 200
        text = json.dumps(answer.json())
        assert '"masked": true' in text, place
        for leak in ("0.91823", '0.9182"', "455.0", "0.0001068"):
            assert leak not in text, (place, leak)


def test_the_history_hides_what_is_masked(
    technician: User, auditor: User, lot: Lot, fill: Fill, ready: Determination
) -> None:
    entries = list(AuditEntry.objects.filter(object_type__startswith="samples."))
    assert masking.hidden(technician, entries) == set()
    factories.make_specimens(actor=technician, lot=lot, fill=fill, count=1)
    hidden = masking.hidden(technician, entries)
    shown = [entry for entry in entries if entry.pk not in hidden]
    assert {entry.object_type for entry in shown} == {
        "samples.grade",
        "samples.preparationrecipe",
        "samples.lot",
        "samples.specimen",
    }
    assert "455.0" not in "".join(entry.body for entry in shown)
    assert masking.hidden(auditor, entries) == set()


def test_the_name_of_a_reading_does_not_tell_its_outcome(
    technician: User, pieces: list[Any]
) -> None:
    factories.make_reading(actor=technician, specimen=pieces[0], outcome="off_top", height_mm=None)
    labels = set(
        AuditEntry.objects.filter(
            object_type__in=["samples.reading", "samples.densityresult"]
        ).values_list("object_label", flat=True)
    )
    assert labels == {"WR-2211 1 (square)"}


def test_a_float_set_lists_what_its_amendment_would_touch(
    as_person: Any, auditor: User, ready: Determination
) -> None:
    newest, older = FloatSet.objects.order_by("-read_at")[:2]
    client = as_person(auditor)
    path = "/api/v1/float-sets/{}/amendment-preview/"
    touched = client.get(path.format(newest.pk)).json()["determinations"]
    assert [each["id"] for each in touched] == [str(ready.pk)]
    assert client.get(path.format(older.pk)).json() == {"determinations": []}


def test_lists_are_filtered_and_take_a_fixed_number_of_queries(
    as_person: Any, auditor: User, lot: Lot, ready: Determination,
    django_assert_max_num_queries: Any,
) -> None:  # fmt: skip
    client = as_person(auditor)
    with django_assert_max_num_queries(5):
        assert len(client.get(PATH, {"status": "ready"}).json()["results"]) == 1
    assert client.get(PATH, {"status": "released"}).json()["results"] == []
    assert client.get(PATH, {"to_be_amended": "true"}).json()["results"] == []
    assert client.get(PATH, {"status": "odd"}).status_code == 422
    with django_assert_max_num_queries(6):
        assert client.get(f"{PATH}{ready.pk}/").headers["ETag"]
    with django_assert_max_num_queries(12):
        client.get(f"{PATH}{ready.pk}/facts/")
