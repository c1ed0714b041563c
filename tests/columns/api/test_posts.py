"""Every POST that keeps something: once for a key, refused without one, nothing half-saved."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from columns.models import Fill
from columns.services.baths import record_bath_temperature
from columns.services.fills import pour_fill
from columns.services.floats import quarantine_float
from columns.services.holds import place_hold
from labsite.accounts.audit_actions import ACTION_REFUSED
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from tests import factories
from tests.columns.api.conftest import lines_of

pytestmark = pytest.mark.django_db

Case = Callable[["Lab"], tuple[str, dict[str, Any]]]


class Lab:
    """An open fill in Ash and what can be made around it."""

    def __init__(self, fill: Fill, lead: User) -> None:
        self.fill, self.lead = fill, lead
        self.column = fill.column
        self.placement = fill.placements.select_related("calibration_float").first()
        self.float = self.placement.calibration_float

    def planned(self) -> Fill:
        column = factories.make_column(actor=self.lead, name="Birch")
        return factories.make_planned_fill(actor=self.lead, column=column)

    def poured(self) -> Fill:
        return pour_fill(actor=self.lead, fill=self.planned())

    def spare(self) -> Any:
        return factories.make_float(actor=self.lead, label="F-900", density="0.9222")

    def hold(self) -> Any:
        return place_hold(actor=self.lead, fill=self.fill, reason="cloudy", lifts_when="clear")

    def temperature(self) -> Any:
        return record_bath_temperature(
            actor=self.lead, bath=self.column.bath, temperature_c=self.column.bath.setpoint_c
        )


@pytest.fixture
def lab(open_fill: Fill, shift_lead: User) -> Lab:
    return Lab(open_fill, shift_lead)


REASON = {"reason": "a real reason"}
CERTIFICATE = {
    "number": "HF-77",
    "issuer": "Harrow Fell Calibration",
    "density_g_cm3": "0.9051",
    "expanded_uncertainty_g_cm3": "0.0001",
    "issued_on": "2026-01-01",
    "valid_until": "2027-01-01",
}
SPAN = {"density_top_g_cm3": "0.90", "density_bottom_g_cm3": "0.95"}
PAIR = {"density_low_g_cm3": "0.789", "density_high_g_cm3": "0.998"}


CASES: dict[str, Case] = {
    "bath": lambda lab: ("baths/", {"name": "Bath 9"}),
    "temperature": lambda lab: (
        f"baths/{lab.column.bath_id}/temperatures/",
        {"temperature_c": "23.05"},
    ),
    "temperature amended": lambda lab: (
        f"temperatures/{lab.temperature().pk}/amend/",
        {"temperature_c": "23.02", **REASON},
    ),
    "thermometer": lambda lab: ("thermometers/", {"name": "T-1"}),
    "column": lambda lab: ("columns/", {"name": "Elm", "bath": str(lab.column.bath_id)}),
    "pair": lambda lab: (
        "pairs/",
        {"name": "ethanol / water", "light_liquid": "ethanol", "heavy_liquid": "water", **PAIR},
    ),
    "fill": lambda lab: (
        "fills/",
        {"column": str(lab.column.pk), "pair": str(lab.fill.pair_id), **SPAN},
    ),
    "pour": lambda lab: (f"fills/{lab.planned().pk}/pour/", {}),
    "settle": lambda lab: (f"fills/{lab.poured().pk}/settle/", {}),
    "drain": lambda lab: (f"fills/{lab.fill.pk}/drain/", REASON),
    "hold": lambda lab: (
        "holds/",
        {"fill": str(lab.fill.pk), "lifts_when": "clear again", **REASON},
    ),
    "hold lifted": lambda lab: (f"holds/{lab.hold().pk}/lift/", REASON),
    "basket pass": lambda lab: ("basket-passes/", {"fill": str(lab.fill.pk)}),
    "float": lambda lab: ("floats/", {"label": "F-901"}),
    "float retired": lambda lab: (f"floats/{lab.spare().pk}/retire/", REASON),
    "quarantine": lambda lab: (f"floats/{lab.float.pk}/quarantine/", REASON),
    "quarantine lifted": lambda lab: (
        "quarantines/{}/lift/".format(
            quarantine_float(actor=lab.lead, calibration_float=lab.float, reason="chipped").pk
        ),
        REASON,
    ),
    "certificate": lambda lab: (
        "certificates/",
        {"calibration_float": str(lab.float.pk), **CERTIFICATE},
    ),
    "placement": lambda lab: (
        "placements/",
        {"calibration_float": str(lab.spare().pk), "fill": str(lab.fill.pk)},
    ),
    "removal": lambda lab: (f"placements/{lab.placement.pk}/remove/", REASON),
    "float set": lambda lab: (
        "float-sets/",
        {
            "fill": str(lab.fill.pk),
            "bath_temperature_c": "23.0",
            "heights": lines_of(lab.fill),
        },
    ),
    "float set amended": lambda lab: (
        f"float-sets/{lab.fill.float_sets.first().pk}/amend/",
        {"heights": lines_of(lab.fill, shift_mm="0.5"), **REASON},
    ),
    "repeatability": lambda lab: (
        "repeatabilities/",
        {"person": str(lab.lead.pk), "standard_deviation_mm": "0.25", "source": "ten sets"},
    ),
}


@pytest.fixture(params=CASES)
def case(request: pytest.FixtureRequest, lab: Lab) -> tuple[str, dict[str, Any]]:
    path, body = CASES[request.param](lab)
    return f"/api/v1/{path}", body


def test_a_refused_post_writes_nothing_and_a_repeated_one_writes_once(
    as_manager: Any,
    as_nobody: Any,
    as_person: Any,
    auditor: User,
    case: tuple[str, dict[str, Any]],
) -> None:
    """One fill for all of it: the same body is refused four ways, then kept, then replayed."""
    path, body = case
    as_auditor = as_person(auditor)
    before = AuditEntry.objects.exclude(action=ACTION_REFUSED).count()

    keyless = as_manager.post(path, body, HTTP_IDEMPOTENCY_KEY="")
    assert (keyless.status_code, keyless.json()["code"]) == (400, "idempotency_key_required")
    unknown = as_manager.post(path, {**body, "colour": "red"})
    assert (unknown.status_code, unknown.json()["code"]) == (422, "unknown_field")
    assert unknown.json()["fields"] == {"colour": ["unknown field"]}
    assert as_nobody.post(path, body).status_code == 401
    assert as_auditor.post(path, body).status_code == 403
    assert AuditEntry.objects.exclude(action=ACTION_REFUSED).count() == before

    first = as_manager.post(path, body, HTTP_IDEMPOTENCY_KEY="k-1")
    assert first.status_code in (200, 201), first.json()
    entries = AuditEntry.objects.count()
    assert entries > before
    again = as_manager.post(path, body, HTTP_IDEMPOTENCY_KEY="k-1")
    assert (again.status_code, again.json()) == (200, first.json())
    other = as_manager.post(path, {**body, "reason": "another"}, HTTP_IDEMPOTENCY_KEY="k-1")
    assert (other.status_code, other.json()["code"]) == (422, "idempotency_key_reused")
    assert AuditEntry.objects.count() == entries
