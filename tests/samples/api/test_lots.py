"""Recipes, grades, lots, drops and what is polled, over the API."""

from __future__ import annotations

from typing import Any

import pytest

from columns.models import Fill
from columns.services.holds import place_hold
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from samples.api import bench_serializers
from samples.models import Grade, Lot, Specimen
from tests import factories

pytestmark = pytest.mark.django_db
LOTS, GRADES, SPECIMENS = "/api/v1/lots/", "/api/v1/grades/", "/api/v1/specimens/"


def test_a_lot_is_registered_and_found_as_it_is_typed(
    as_person: Any, technician: User, grade: Grade
) -> None:
    client = as_person(technician)
    made = client.post(LOTS, {"code": "  ab-12 ", "grade": str(grade.pk)})
    assert (made.status_code, made.json()["code"]) == (201, "AB-12")
    assert made.json()["determination"] is None
    for query in ({"code": " ab-12"}, {"q": "b-1"}, {"grade": str(grade.pk)}):
        assert len(client.get(LOTS, query).json()["results"]) == 1
    assert client.get(LOTS, {"q": "'; DROP TABLE lots; --"}).json()["results"] == []
    again = client.post(LOTS, {"code": "AB-12", "grade": str(grade.pk)})
    assert (again.status_code, again.json()["code"]) == (409, "lot_exists")
    assert again.json()["lot"] == made.json()["id"]


@pytest.mark.parametrize(
    ("code", "refusal"),
    [
        ("\u0410B-12", "lot_code_mixed_scripts"),
        ("3-4", "lot_code_date_like"),
        ("<script>", "lot_code_characters"),
        ("x\x01y", "invalid"),
        ("", "invalid"),
        ("x" * 10_000, "invalid"),
    ],
)
def test_doubtful_codes_are_refused(
    code: str, refusal: str, as_person: Any, technician: User, grade: Grade
) -> None:
    answer = as_person(technician).post(LOTS, {"code": code, "grade": str(grade.pk)})
    assert (answer.status_code, answer.json()["code"]) == (422, refusal)
    assert answer.json()["fields"]["code"]
    assert not Lot.objects.exists()


def test_a_lot_is_changed_with_its_etag_and_a_reason(
    as_person: Any, technician: User, lot: Lot
) -> None:
    client, path = as_person(technician), f"{LOTS}{lot.pk}/"
    etag = client.get(path).headers["ETag"]
    change = {"note": "retained sample B", "reason": "noted late"}
    assert client.patch(path, change).status_code == 428
    done = client.patch(path, change, etag=etag)
    assert (done.status_code, done.json()["note"]) == (200, "retained sample B")
    stale = client.patch(path, change, etag=etag)
    assert (stale.status_code, stale.json()["current"]["version"]) == (412, 2)
    missing = client.patch(path, {"note": "x"}, etag=done.headers["ETag"])
    assert missing.status_code == 422
    assert missing.json()["fields"]["reason"]
    assert client.delete(path).status_code == 405


def test_grades_belong_to_the_manager(
    as_person: Any, manager: User, technician: User, grade: Grade
) -> None:
    body = {
        "name": "Teal coating",
        "recipe": str(grade.recipe_id),
        "expected_density_g_cm3": "0.9236",
        "lower_limit_g_cm3": "0.9216",
        "upper_limit_g_cm3": "0.9256",
        "spread_limit_g_cm3": "0.0010",
    }
    assert as_person(technician).post(GRADES, body).status_code == 403
    client = as_person(manager)
    wrong = client.post(GRADES, body | {"lower_limit_g_cm3": "935"})
    assert (wrong.status_code, wrong.json()["code"]) == (422, "density_unit")
    assert wrong.json()["suggestion"] == "0.935"
    made = client.post(GRADES, body)
    assert made.status_code == 201
    path = f"{GRADES}{made.json()['id']}/"
    etag = client.get(path).headers["ETag"]
    swapped = client.patch(
        path, {"lower_limit_g_cm3": "0.9300", "reason": "typed wrongly"}, etag=etag
    )
    assert (swapped.status_code, swapped.json()["code"]) == (422, "limits_reversed")
    done = client.patch(path, {"specimens_required": 5, "reason": "customer asks"}, etag=etag)
    assert done.json()["specimens_required"] == 5
    assert as_person(None).get(GRADES).status_code == 401
    recipe = client.post("/api/v1/recipes/", {"name": "Strand", "form": "strand"})
    assert recipe.status_code == 201
    assert client.post(f"{path}retire/", {"reason": "no longer made"}).json()["retired_at"]


def test_pieces_are_dropped_once(as_person: Any, technician: User, lot: Lot, fill: Fill) -> None:
    client = as_person(technician)
    body = {"lot": str(lot.pk), "fill": str(fill.pk), "shapes": ["square", "bar", "tee"]}
    first = client.post(SPECIMENS, body, HTTP_IDEMPOTENCY_KEY="drop")
    again = client.post(SPECIMENS, body, HTTP_IDEMPOTENCY_KEY="drop")
    assert (first.status_code, again.status_code) == (201, 200)
    assert [each["number"] for each in first.json()["specimens"]] == [1, 2, 3]
    assert first.json()["specimens"][0]["column"]["name"] == "Ash"
    assert Specimen.objects.count() == 3


def test_a_closed_column_takes_nothing(
    as_person: Any, technician: User, shift_lead: User, lot: Lot, fill: Fill
) -> None:
    place_hold(actor=technician, fill=fill, reason="glass cracked", lifts_when="a look at it")
    body = {"lot": str(lot.pk), "fill": str(fill.pk), "shapes": ["square"]}
    before = AuditEntry.objects.count()
    refused = as_person(technician).post(SPECIMENS, body)
    assert (refused.status_code, refused.json()["code"]) == (409, "on_hold")
    assert "glass cracked" in refused.json()["message"]
    assert AuditEntry.objects.count() == before
    reason = {"override_reason": "crack is above the liquid"}
    assert as_person(technician).post(SPECIMENS, body | reason).status_code == 403
    assert as_person(shift_lead).post(SPECIMENS, body | reason).status_code == 201


def test_pieces_are_taken_over(
    as_person: Any, other_technician: User, auditor: User, pieces: list[Any]
) -> None:
    body = {"specimens": [str(piece.pk) for piece in pieces]}
    path = f"{SPECIMENS}take-over/"
    assert as_person(auditor).post(path, body).status_code == 403
    taken = as_person(other_technician).post(path, body).json()["specimens"]
    assert {each["taken_over_by"]["name"] for each in taken} == {"Salma"}
    unread = as_person(auditor).get(SPECIMENS, {"unread": "true"}).json()["results"]
    assert len(unread) == 3


def test_advice_names_the_shape_least_used_where_the_lot_will_rest(
    as_person: Any, technician: User, grade: Grade, fill: Fill
) -> None:
    earlier = factories.make_lot(actor=technician, grade=grade, code="WR-2210")
    for piece in factories.make_specimens(
        actor=technician, lot=earlier, fill=fill, shapes=["square", "square", "triangle"]
    ):
        factories.make_reading(actor=technician, specimen=piece, height_mm="460.0")
    lot = factories.make_lot(actor=technician, grade=grade)
    advice = as_person(technician).get("/api/v1/drop-advice/", {"lot": str(lot.pk)}).json()
    place = advice["results"][0]
    assert (place["column"]["name"], place["is_open"], place["covers"]) == ("Ash", True, True)
    assert place["expected_height_mm"] == pytest.approx(455.673, abs=1e-3)
    assert place["shapes"][0]["near"] == 0
    assert place["shapes"][-1] == {"shape": "square", "near": 2, "in_column": 2}
    assert as_person(technician).get("/api/v1/drop-advice/").status_code == 422


def test_a_lots_pieces_stand_on_the_density_axis_with_intervals(
    as_person: Any, technician: User, auditor: User, lot: Lot, fill: Fill,
    django_assert_max_num_queries: Any,
) -> None:  # fmt: skip
    readings = factories.make_read_lot(actor=technician, lot=lot, fill=fill)
    piece = readings[1].specimen
    factories.make_determination(
        actor=technician, lot=lot, ready=False, set_aside={piece.pk: "a void inside"}
    )
    client = as_person(auditor)
    with django_assert_max_num_queries(11):
        facts = client.get(f"{LOTS}{lot.pk}/facts/").json()
    first, second, _third = facts["axis"]["pieces"]
    assert first["density"] == "0.91825"
    assert float(first["low"]) < 0.91825 < float(first["high"])
    assert (first["excluded"], second["excluded"]) == (False, True)
    assert (first["set_aside_reason"], second["set_aside_reason"]) == ("", "a void inside")
    assert (facts["unread"], facts["barred"]) == ([], None)
    assert facts["axis"]["limits"]["lower"] == "0.9162"
    assert facts["axis"]["mean"]["count"] == 2
    assert len(facts["specimens"]) == 3
    factories.make_specimens(actor=technician, lot=lot, fill=fill, count=1)
    masked = as_person(technician).get(f"{LOTS}{lot.pk}/facts/").json()
    assert masked["masked"] is True
    assert (masked["axis"]["pieces"], masked["axis"]["mean"]) == ([], None)
    assert masked["determinations"][0]["density_g_cm3"] is None


def same_keys(serializer: Any, body: Any, path: str = "") -> None:
    """The answer has exactly the fields of the schema, all the way down."""
    if body is None:
        assert serializer.allow_null, path
    elif getattr(serializer, "many", False):
        for item in body:
            same_keys(serializer.child, item, path)
    elif hasattr(serializer, "fields"):
        assert set(serializer.fields) == set(body), path
        for name, field in serializer.fields.items():
            same_keys(field, body[name], f"{path}.{name}")


def test_what_is_polled_is_as_the_schema_says_and_unchanged_answers_304(
    as_person: Any, technician: User, pieces: list[Any]
) -> None:
    factories.make_reading(actor=technician, specimen=pieces[0])
    client = as_person(technician)
    column = pieces[0].fill.column_id
    for path, serializer in (
        ("/api/v1/bench/", bench_serializers.BenchSerializer()),
        (f"/api/v1/columns/{column}/overview/", bench_serializers.ColumnOverviewSerializer()),
        ("/api/v1/read-queue/", bench_serializers.ReadQueueSerializer()),
    ):
        first = client.get(path)
        same_keys(serializer, first.json(), path)
        again = client.get(path, headers={"If-None-Match": first.headers["ETag"]})
        assert (again.status_code, again.content) == (304, b"")
    factories.make_reading(actor=technician, specimen=pieces[1])
    news = client.get("/api/v1/bench/", headers={"If-None-Match": first.headers["ETag"]})
    assert news.status_code == 200
    assert as_person(None).get("/api/v1/bench/").status_code == 401


def test_lots_are_found_by_what_they_wait_for(
    as_person: Any, technician: User, shift_lead: User, grade: Any, lot: Lot, fill: Fill
) -> None:
    empty = factories.make_lot(actor=technician, grade=grade, code="WR-2212")
    factories.make_read_lot(actor=shift_lead, lot=lot, fill=fill)
    factories.make_determination(actor=technician, lot=lot)
    client = as_person(shift_lead)

    def found(waits_for: str) -> list[str]:
        return [
            row["code"] for row in client.get(f"{LOTS}?waits_for={waits_for}").json()["results"]
        ]

    assert found("release") == [lot.code]
    assert found("pieces") == [empty.code]
    assert found("nothing") == []
    assert client.get(f"{LOTS}?waits_for=coffee").status_code == 422
    facts = client.get(f"{LOTS}{lot.pk}/facts/").json()
    assert "Another person releases it" in facts["barred"]
    assert as_person(technician).get(f"{LOTS}{lot.pk}/facts/").json()["barred"] is None
