"""POST /api/v1/compute/calibration: unrounded, stateless, the same path as stored results."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from columns.models import Calibration, Fill
from labsite.accounts.models import User
from labsite.accounts.roles import Role
from labsite.audit.models import AuditEntry
from tests import factories
from tests.columns.physics.reference import reference

pytestmark = pytest.mark.django_db

URL = "/api/v1/compute/calibration"
# ASTM D1505-18, 10.1.2 with JCGM 100 clause 5; 04d of fixtures/reference
CASES = reference("04d")["cases"]
# six floats, three specimens, solved in 40-digit arithmetic; 04e of fixtures/reference
COLUMN = reference("04e")


def body_of_column() -> dict[str, Any]:
    return {
        "origin": "bottom",
        "height_standard_uncertainty_mm": 0.4,
        "floats": [
            {
                "id": f"F-{number}",
                "density_g_cm3": each["rho"],
                "standard_uncertainty_g_cm3": 0.0001,
                "height_mm": each["h"],
            }
            for number, each in enumerate(COLUMN["floats"], start=1)
        ],
        "specimens": [
            {"id": str(height), "height_mm": height} for height in COLUMN["specimen_heights"]
        ],
    }


@pytest.fixture
def compute(as_technician: Any) -> Any:
    def call(**fields: Any) -> Any:
        return as_technician.post(URL, {**body_of_column(), **fields})

    return call


def test_the_worked_column_gives_its_printed_digits(compute: Any) -> None:
    answer = compute()
    assert answer.status_code == 200
    found = answer.json()
    assert found["correlation"] == pytest.approx(COLUMN["correlation_r"], rel=1e-6)
    assert found["sensitivity_g_cm3_per_mm"] == pytest.approx(
        COLUMN["mean_sensitivity"]["range_over_span"], rel=1e-4
    )
    assert found["findings"] == []
    for specimen, wanted in zip(found["specimens"], COLUMN["neighbour_interpolation"], strict=True):
        assert specimen["outcome"] == "measured"
        assert specimen["bound_float"] is None
        assert specimen["bracketing"]["density_g_cm3"] == pytest.approx(wanted["rho"], abs=1e-8)
        low, high = specimen["curve"]["interval_95"]
        assert low < specimen["curve"]["density_g_cm3"] < high


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_density_and_uncertainty_between_two_floats_match_the_reference(
    as_technician: Any, case: dict[str, Any]
) -> None:
    floats = [
        {
            "id": name,
            "density_g_cm3": case[name],
            "standard_uncertainty_g_cm3": case[f"u_{name}"],
            "common_standard_uncertainty_g_cm3": case[f"u_{name}"] * case["corr_ab"],
            "height_mm": case[place],
        }
        for name, place in (("a", "y"), ("b", "z"))
    ]
    answer = as_technician.post(
        URL,
        {
            "origin": "bottom" if case["gradient_g_cm3_per_mm"] < 0 else "top",
            "height_standard_uncertainty_mm": case["u_x"],
            "floats": floats,
            "specimens": [{"id": "x", "height_mm": case["x"]}],
        },
    )
    found = answer.json()
    density = found["specimens"][0]["bracketing"]
    assert density["density_g_cm3"] == pytest.approx(case["rho"], abs=1e-8)
    assert density["standard_uncertainty_g_cm3"] == pytest.approx(case["u_c"], abs=1e-8)
    assert found["specimens"][0]["curve"] is None
    codes = [each["code"] for each in found["findings"]]
    assert codes == ["too_few_floats_for_curve", "below_minimum_floats"]
    slope = abs(case["gradient_g_cm3_per_mm"])
    assert found["gaps"][0]["slope_g_cm3_per_mm"] == pytest.approx(slope, rel=1e-5)


def test_a_stored_calibration_has_the_same_figures(as_technician: Any, open_fill: Fill) -> None:
    stored = Calibration.objects.filter(float_set__fill=open_fill).first()
    facts = stored.input_facts
    answer = as_technician.post(
        URL,
        {
            "origin": facts["origin"],
            "height_standard_uncertainty_mm": float(facts["height_standard_uncertainty_mm"]),
            "floats": [
                {
                    "id": each["label"],
                    "density_g_cm3": float(each["density_g_cm3"]),
                    "standard_uncertainty_g_cm3": float(each["standard_uncertainty_g_cm3"]),
                    "height_mm": float(each["height_mm"]),
                }
                for each in facts["floats"]
            ],
        },
    )
    found, results = answer.json(), stored.result_facts
    assert repr(found["correlation"]) == results["correlation"]
    assert [repr(f["residual_mm"]) for f in found["floats"]] == [
        f["residual_mm"] for f in results["floats"]
    ]
    assert [repr(g["slope_g_cm3_per_mm"]) for g in found["gaps"]] == [
        g["slope_g_cm3_per_mm"] for g in results["gaps"]
    ]


def test_beyond_the_end_floats_there_is_a_bound_and_no_number(compute: Any) -> None:
    answer = compute(
        specimens=[
            {"id": "high", "height_mm": 496.5},
            {"id": "low", "height_mm": 101.0},
            {"id": "on", "height_mm": 496.0},
        ]
    )
    high, low, on = answer.json()["specimens"]
    assert (high["outcome"], high["bound_float"]) == ("lighter", "F-6")
    assert (low["outcome"], low["bound_float"]) == ("denser", "F-1")
    assert high["bracketing"] is None
    assert high["curve"] is None
    assert on["outcome"] == "measured"
    assert on["bracketing"]["density_g_cm3"] == 0.935  # exactly on a float: its density


def test_the_liquids_ends_are_taken_into_account(compute: Any) -> None:
    plain = compute().json()
    bounded = compute(column={"liquid_bottom_mm": 20.0, "liquid_top_mm": 640.0}).json()
    assert bounded["correlation"] == plain["correlation"]
    curves = [found["specimens"][0]["curve"]["density_g_cm3"] for found in (plain, bounded)]
    assert curves[0] != curves[1]
    assert curves[0] == pytest.approx(curves[1], abs=1e-4)


def changed(index: int, **fields: Any) -> list[dict[str, Any]]:
    floats = copy.deepcopy(body_of_column()["floats"])
    floats[index].update(fields)
    return floats


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"floats": changed(2, height_mm=345.5)}, "float_order_reversed"),
        ({"floats": changed(2, height_mm=345.0)}, "float_heights_equal"),
        ({"floats": changed(2, density_g_cm3=0.9553)}, "float_densities_equal"),
        ({"floats": changed(2, density_g_cm3=950.1)}, "density_implausible"),
        ({"floats": changed(2, id="F-1")}, "duplicate_float"),
        ({"floats": changed(2, standard_uncertainty_g_cm3=-0.1)}, "uncertainty_not_valid"),
        (
            {"floats": changed(2, common_standard_uncertainty_g_cm3=0.1)},
            "uncertainty_not_valid",
        ),
        ({"floats": body_of_column()["floats"][:1]}, "too_few_floats"),
        ({"floats": []}, "too_few_floats"),
        ({"height_standard_uncertainty_mm": -1}, "uncertainty_not_valid"),
        ({"column": {"liquid_bottom_mm": 640, "liquid_top_mm": 20}}, "liquid_span_not_valid"),
        ({"column": {"liquid_bottom_mm": 150, "liquid_top_mm": 640}}, "height_outside_liquid"),
        ({"origin": "top"}, "float_order_reversed"),
    ],
)
def test_a_set_that_cannot_be_a_columns_is_refused(
    compute: Any, fields: dict[str, Any], code: str
) -> None:
    answer = compute(**fields)
    assert (answer.status_code, answer.json()["code"]) == (422, code), answer.json()
    assert answer.json()["message"]


def test_a_reversed_order_tells_the_likely_cause(compute: Any) -> None:
    swapped = changed(2, height_mm=345.0)
    swapped[3]["height_mm"] = 268.5
    told = compute(floats=swapped).json()
    assert (told["cause"], sorted(told["floats"])) == ("lines_swapped", ["F-3", "F-4"])
    assert compute(origin="top").json()["cause"] == "scale_origin"


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"origin": "middle"}, "origin"),
        ({"height_standard_uncertainty_mm": "0.4"}, "height_standard_uncertainty_mm"),
        ({"height_standard_uncertainty_mm": True}, "height_standard_uncertainty_mm"),
        ({"height_standard_uncertainty_mm": None}, "height_standard_uncertainty_mm"),
        ({"floats": changed(0, height_mm="101.5")}, "floats[0].height_mm"),
        ({"floats": changed(0, id="")}, "floats[0].id"),
        ({"floats": "all"}, "floats"),
        ({"specimens": [{"id": "a"}]}, "specimens[0].height_mm"),
        ({"floats": body_of_column()["floats"] * 11}, "floats"),
        ({"specimens": [{"id": "a", "height_mm": 200.0}] * 501}, "specimens"),
    ],
)
def test_a_body_that_cannot_be_read_is_refused_by_field(
    compute: Any, fields: dict[str, Any], field: str
) -> None:
    answer = compute(**fields)
    assert answer.status_code == 422
    assert [name.removesuffix(".non_field_errors") for name in answer.json()["fields"]] == [field]


def test_unknown_fields_are_refused_at_every_depth(compute: Any) -> None:
    for fields in ({"colour": 1}, {"floats": changed(0, colour=1)}):
        answer = compute(**fields)
        assert (answer.status_code, answer.json()["code"]) == (422, "unknown_field")


@pytest.mark.parametrize("number", ["NaN", "Infinity", "1e999", "-1e999"])
def test_what_is_no_number_is_malformed(as_technician: Any, number: str) -> None:
    text = json.dumps(body_of_column()).replace("0.4,", f"{number},", 1)
    answer = as_technician.generic("POST", URL, text, content_type="application/json")
    assert (answer.status_code, answer.json()["code"]) == (400, "malformed")


@pytest.mark.parametrize("role", list(Role))
def test_it_is_open_to_every_role_needs_no_key_and_keeps_nothing(
    as_person: Any, role: str, db: Any
) -> None:
    client = as_person(factories.make_person(username="p", role=role))
    before = AuditEntry.objects.count()
    answer = client.post(URL, body_of_column(), HTTP_IDEMPOTENCY_KEY="")
    assert answer.status_code == 200
    assert AuditEntry.objects.count() == before


def test_it_is_closed_to_people_who_are_not_signed_in(as_nobody: Any) -> None:
    assert as_nobody.post(URL, body_of_column()).status_code == 401


def test_a_misfit_is_found_and_named(compute: Any, technician: User) -> None:
    floats = changed(2, height_mm=248.5)  # 20 mm low
    found = compute(floats=floats).json()
    assert ("float_misfit", "F-3") in [(f["code"], f["float"]) for f in found["findings"]]
