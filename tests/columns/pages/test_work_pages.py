"""Jobs, floats and equipment: who sees the pages, who is offered which act."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from columns.models import CalibrationFloat, Fill
from columns.services.floats import register_float
from labsite.accounts.models import User
from tests import factories

pytestmark = pytest.mark.django_db

ROLES = ("technician", "shift_lead", "manager", "auditor", "administrator")


def page(person: User, address: str) -> str:
    client = Client()
    client.force_login(person, backend="labsite.accounts.backends.LabBackend")
    answer = client.get(address)
    assert answer.status_code == 200, answer.content
    return answer.content.decode()


@pytest.fixture
def fill(shift_lead: User) -> Fill:
    return factories.make_open_fill(actor=shift_lead)


def addresses(fill: Fill) -> list[str]:
    return [
        reverse("columns:jobs"),
        reverse("columns:work", args=[fill.column_id]),
        reverse("columns:float-list"),
        reverse("columns:float-detail", args=[CalibrationFloat.objects.first().pk]),
        reverse("columns:equipment"),
    ]


@pytest.mark.parametrize("role", ROLES)
def test_everybody_in_the_lab_may_look(role: str, fill: Fill, request: Any) -> None:
    for address in addresses(fill):
        assert "<h1>" in page(request.getfixturevalue(role), address)


def test_a_stranger_is_sent_to_sign_in(fill: Fill) -> None:
    for address in addresses(fill):
        answer = Client().get(address)
        assert answer.status_code == 302
        assert answer["Location"].startswith(reverse("accounts:sign-in"))


@pytest.mark.parametrize("role", ["auditor", "administrator"])
def test_who_only_looks_is_offered_no_act(role: str, fill: Fill, request: Any) -> None:
    person = request.getfixturevalue(role)
    for address in addresses(fill):
        assert "data-act" not in page(person, address)


def test_a_technician_passes_the_basket_but_lifts_no_hold(technician: User, fill: Fill) -> None:
    text = page(technician, reverse("columns:work", args=[fill.column_id]))
    assert "/api/v1/basket-passes/" in text
    assert "/lift/" not in text


def test_only_the_manager_changes_the_rules(shift_lead: User, manager: User, fill: Fill) -> None:
    address = reverse("columns:equipment")
    assert "/api/v1/rules/" not in page(shift_lead, address)
    assert "/api/v1/rules/" in page(manager, address)


def test_a_float_without_certificate_says_so(manager: User) -> None:
    lone = register_float(actor=manager, label="F-999")
    text = page(manager, reverse("columns:float-detail", args=[lone.pk]))
    assert "no density can rest on this float" in text


def test_what_people_typed_is_shown_as_text(manager: User, fill: Fill) -> None:
    CalibrationFloat.objects.filter(pk=CalibrationFloat.objects.first().pk).update(
        note="<script>alert(1)</script>"
    )
    text = page(manager, addresses(fill)[3])
    assert "<script>alert" not in text
    assert "&lt;script&gt;" in text
