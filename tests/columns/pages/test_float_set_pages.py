"""The float set's pages and the sheet that they are filled from."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils.timezone import localdate

from columns.models import CalibrationFloat, FloatSet
from columns.services.floats import place_float, quarantine_float
from labsite.accounts.models import User
from labsite.clock import SYSTEM_CLOCK
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def fill(manager: User) -> Any:
    return factories.make_open_fill(actor=manager, at=SYSTEM_CLOCK.now() - timedelta(hours=1))


def sheet_of(client: Any, fill: Any) -> dict[str, Any]:
    answer = client.get(f"/api/v1/fills/{fill.pk}/float-sheet/")
    assert answer.status_code == 200
    return answer.json()


def test_the_sheet_lists_the_floats_lightest_first(
    as_person: Any, technician: User, fill: Any
) -> None:
    sheet = sheet_of(as_person(technician), fill)
    floats = [(each["label"], each["density_g_cm3"]) for each in sheet["floats"]]
    assert floats[0] == ("F-101", "0.9051")
    assert floats[7] == ("F-108", "0.9400")  # four places, as certificates give them
    assert sheet["scale"]["division_mm"] == "0.5"
    assert sheet["bath"]["name"] == "Bath 1"


def test_nothing_of_an_earlier_set_is_on_the_sheet_or_the_page(
    as_person: Any, technician: User, fill: Any
) -> None:
    """Two sets were read with these heights; none may lead the eye."""
    client = as_person(technician)
    sheet = json.dumps(sheet_of(client, fill))
    page = client.get(reverse("columns:float-set", args=[fill.column_id])).content.decode()
    for _density, height in factories.NINE_FLOATS:
        for text in (sheet, page):
            assert not re.search(rf"\b{re.escape(height)}\b", text.split("<main", 1)[-1])
    assert "height_mm" not in sheet
    assert "residual" not in sheet


def test_the_sheet_tells_doubts_about_floats(
    as_person: Any, technician: User, manager: User, fill: Any
) -> None:
    doubted = CalibrationFloat.objects.get(label="F-103")
    quarantine_float(actor=technician, calibration_float=doubted, reason="chipped at the top")
    floats = {each["label"]: each for each in sheet_of(as_person(technician), fill)["floats"]}
    assert floats["F-103"]["is_quarantined"] is True
    assert floats["F-107"]["is_quarantined"] is False
    assert all(each["has_valid_certificate"] for each in floats.values())


def test_a_float_with_a_lapsed_certificate_is_told(
    as_person: Any, technician: User, manager: User
) -> None:
    now = SYSTEM_CLOCK.now()
    fill = factories.make_settling_fill(
        actor=manager, at=now - timedelta(days=3), floats=factories.NINE_FLOATS[:3]
    )
    lapsed = factories.make_float(
        actor=manager, label="F-150", valid_until=localdate(now) - timedelta(days=1)
    )
    placed_at = factories.clock_at(now - timedelta(days=2))
    place_float(actor=manager, calibration_float=lapsed, fill=fill, clock=placed_at)
    floats = {each["label"]: each for each in sheet_of(as_person(technician), fill)["floats"]}
    assert floats["F-150"]["has_valid_certificate"] is False
    assert floats["F-102"]["has_valid_certificate"] is True


def test_a_saved_set_answers_with_figures_rounded_for_the_page(
    as_person: Any, technician: User, fill: Any
) -> None:
    heights = [
        {"calibration_float": str(row["calibration_float"].pk), "height_mm": str(row["height_mm"])}
        for row in factories.heights_of(fill)
    ]
    body = {"fill": str(fill.pk), "bath_temperature_c": "23.0", "heights": heights}
    answer = as_person(technician).post("/api/v1/float-sets/", body)
    assert answer.status_code == 201
    shown = answer.json()["calibration"]["shown"]
    assert [each["label"] for each in shown["floats"]][:2] == ["F-101", "F-102"]
    assert shown["floats"][0]["height_mm"] == "640.0"
    for each in shown["floats"]:
        assert re.fullmatch(r"-?\d+\.\d", each["residual_mm"])
        assert re.fullmatch(r"-?0\.\d{5}", each["residual_g_cm3"])
    # density span over height span of the two end floats: (0.9449 - 0.9051) / 560
    assert shown["sensitivity_g_cm3_per_mm"] == "0.0000711"
    # between F-101 and F-102: 0.0051 over 71.5 mm
    slopes = {(g["upper_float"], g["lower_float"]): g for g in shown["gaps"]}
    assert slopes["F-101", "F-102"]["slope_g_cm3_per_mm"] == "0.0000713"
    assert slopes["F-101", "F-102"]["length_mm"] == "71.5"


def test_columns_to_read_are_offered_and_empty_ones_are_not(
    as_person: Any, technician: User, manager: User, fill: Any
) -> None:
    empty = factories.make_column(actor=manager, name="Birch")
    html = as_person(technician).get(reverse("columns:float-set")).content.decode()
    assert reverse("columns:float-set", args=[fill.column_id]) in html
    assert reverse("columns:float-set", args=[empty.pk]) not in html


def test_an_empty_column_leads_to_its_fill(as_person: Any, technician: User, manager: User) -> None:
    empty = factories.make_column(actor=manager, name="Birch")
    html = as_person(technician).get(reverse("columns:float-set", args=[empty.pk])).content.decode()
    assert "This column holds no liquid." in html
    assert reverse("columns:work", args=[empty.pk]) in html
    assert "data-keypad" not in html


def test_amending_names_the_reader_and_asks_for_a_reason(
    as_person: Any, technician: User, fill: Any
) -> None:
    saved = FloatSet.objects.order_by("-read_at").first()
    html = (
        as_person(technician)
        .get(reverse("columns:float-set-amend", args=[saved.pk]))
        .content.decode()
    )
    assert "Amend a float set in Ash" in html
    assert 'id="reason"' in html
    assert f"Read by {saved.read_by}" in html


@pytest.mark.parametrize("role", ["auditor", "administrator"])
def test_people_who_only_look_enter_no_set(
    request: Any, as_person: Any, fill: Any, role: str
) -> None:
    client = as_person(request.getfixturevalue(role))
    saved = FloatSet.objects.first()
    for url in (
        reverse("columns:float-set"),
        reverse("columns:float-set", args=[fill.column_id]),
        reverse("columns:float-set-amend", args=[saved.pk]),
    ):
        assert client.get(url).status_code == 403
