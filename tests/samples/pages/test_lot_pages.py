"""Lots, one lot, the queue for release and the printable result: who sees what."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from labsite.accounts.models import User
from samples.models import Determination
from samples.services.determinations import release_determination
from tests import factories

pytestmark = pytest.mark.django_db

ROLES = ("technician", "shift_lead", "manager", "auditor", "administrator")


def get(person: User | None, address: str) -> Any:
    client = Client()
    if person:
        client.force_login(person, backend="labsite.accounts.backends.LabBackend")
    return client.get(address)


@pytest.fixture
def ready(technician: User, lot: Any, fill: Any) -> Determination:
    factories.make_read_lot(actor=technician, lot=lot, fill=fill)
    return factories.make_determination(actor=technician, lot=lot)


def addresses(ready: Determination) -> list[str]:
    return [
        reverse("samples:lot-list"),
        reverse("samples:lot", args=[ready.lot_id]),
        reverse("reports:result", args=[ready.pk]),
    ]


@pytest.mark.parametrize("role", ROLES)
def test_everybody_in_the_lab_may_look(role: str, ready: Determination, request: Any) -> None:
    for address in addresses(ready):
        assert get(request.getfixturevalue(role), address).status_code == 200


def test_a_stranger_is_sent_to_sign_in(ready: Determination) -> None:
    for address in [*addresses(ready), reverse("samples:release")]:
        assert get(None, address).status_code == 302


@pytest.mark.parametrize("role", ["technician", "auditor", "administrator"])
def test_the_queue_is_for_those_who_release(role: str, request: Any, ready: Any) -> None:
    assert get(request.getfixturevalue(role), reverse("samples:release")).status_code == 403


def test_the_queue_names_what_one_may_not_release_oneself(
    shift_lead: User, manager: User, lot: Any, fill: Any
) -> None:
    factories.make_read_lot(actor=shift_lead, lot=lot, fill=fill)
    factories.make_determination(actor=shift_lead, lot=lot)
    own = get(shift_lead, reverse("samples:release")).content.decode()
    other = get(manager, reverse("samples:release")).content.decode()
    assert lot.code in own
    assert "Another person releases it" in own
    assert "Another person releases it" not in other


def test_the_lot_page_itself_holds_no_figure(technician: User, ready: Determination) -> None:
    """Figures come from the API, which masks them for who is not to see them yet."""
    text = get(technician, reverse("samples:lot", args=[ready.lot_id])).content.decode()
    assert "0.918" not in text
    assert "455" not in text


def test_the_result_page_holds_what_the_number_rests_on(
    shift_lead: User, auditor: User, ready: Determination
) -> None:
    released = release_determination(actor=shift_lead, determination=ready, note="Looked at.")
    text = get(auditor, reverse("reports:result", args=[released.pk])).content.decode()
    assert "Released" in text
    assert "455.0" in text  # a raw height, in the places of the scale
    assert "F-101" in text
    assert "zero at the bottom" in text
    assert "ASTM D1505-18, 10.1.2" in text
    assert "Welch–Satterthwaite" in text
    assert shift_lead.full_name in text
    assert "hash" in text


def test_the_printed_number_is_rounded_half_even_from_the_stored_one(
    auditor: User, ready: Determination
) -> None:
    Determination.objects.filter(pk=ready.pk).update(density_g_cm3=Decimal("0.9184500"))
    text = get(auditor, reverse("reports:result", args=[ready.pk])).content.decode()
    assert "0.9184\u00a0±" in text


def test_no_limits_is_no_rule_and_never_a_pass(
    technician: User, manager: User, auditor: User, fill: Any
) -> None:
    grade = factories.make_grade(
        actor=manager, name="Free", lower_limit_g_cm3=None, upper_limit_g_cm3=None
    )
    lot = factories.make_lot(actor=manager, grade=grade, code="FREE-1")
    factories.make_read_lot(actor=technician, lot=lot, fill=fill)
    found = factories.make_determination(actor=technician, lot=lot)
    text = get(auditor, reverse("reports:result", args=[found.pk])).content.decode()
    assert "no rule" in text
    assert "pass" not in text.lower().replace("password", "")


def test_who_has_still_to_read_sees_no_figure_of_the_lot(
    technician: User, shift_lead: User, lot: Any, fill: Any, ready: Determination
) -> None:
    factories.make_specimens(actor=shift_lead, lot=lot, fill=fill, count=1, shapes=["disc"])
    text = get(shift_lead, reverse("reports:result", args=[ready.pk])).content.decode()
    assert "still have a piece of this lot to read" in text
    assert "0.918" not in text
    assert "455" not in text


@pytest.mark.parametrize(
    ("role", "measures"),
    [("technician", True), ("shift_lead", True), ("manager", True), ("auditor", False),
     ("administrator", False)],
)  # fmt: skip
def test_acts_are_only_on_the_page_of_who_may(
    role: str, measures: bool, ready: Determination, request: Any
) -> None:
    person = request.getfixturevalue(role)
    lot_page = get(person, reverse("samples:lot", args=[ready.lot_id])).content.decode()
    lots_page = get(person, reverse("samples:lot-list")).content.decode()
    for act in ("data-prepare-acts", "data-take-over", "data-amend-form", "Drop pieces"):
        assert (act in lot_page) is measures, act
    assert ("data-register" in lots_page) is measures


def test_the_queue_shows_no_number_to_who_has_still_to_read(
    shift_lead: User, manager: User, lot: Any, fill: Any, ready: Determination
) -> None:
    factories.make_specimens(actor=shift_lead, lot=lot, fill=fill, count=1, shapes=["disc"])
    blind = get(shift_lead, reverse("samples:release")).content.decode()
    assert lot.code in blind
    assert "still have a piece of this lot to read" in blind
    assert "0.918" not in blind
    assert "to judge" not in blind
    seen = get(manager, reverse("samples:release")).content.decode()
    assert "0.9182" in seen


def test_the_queue_begins_with_the_oldest(
    technician: User, shift_lead: User, grade: Any, fill: Any, ready: Determination
) -> None:
    later = factories.make_lot(actor=technician, grade=grade, code="WR-2212")
    factories.make_read_lot(actor=technician, lot=later, fill=fill)
    factories.make_determination(actor=technician, lot=later)
    text = get(shift_lead, reverse("samples:release")).content.decode()
    assert text.index(ready.lot.code) < text.index("WR-2212")
