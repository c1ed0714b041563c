"""Grades: everybody sees what a grade is held to, the manager changes it."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from labsite.accounts.models import User
from samples.models import Grade

pytestmark = pytest.mark.django_db


def page(person: User, address: str) -> str:
    client = Client()
    client.force_login(person, backend="labsite.accounts.backends.LabBackend")
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.mark.parametrize("role", ["technician", "shift_lead", "auditor", "administrator"])
def test_others_look_and_change_nothing(role: str, grade: Grade, request: Any) -> None:
    person = request.getfixturevalue(role)
    for address in (
        reverse("samples:grade-list"),
        reverse("samples:grade-detail", args=[grade.pk]),
    ):
        text = page(person, address)
        assert grade.name in text
        assert "data-act" not in text


def test_the_manager_changes_the_version_that_was_seen(manager: User, grade: Grade) -> None:
    text = page(manager, reverse("samples:grade-detail", args=[grade.pk]))
    assert f'data-etag="&quot;{grade.pk}.{grade.version}&quot;"' in text


def test_no_limits_is_no_rule(manager: User, grade: Grade) -> None:
    Grade.objects.filter(pk=grade.pk).update(lower_limit_g_cm3=None, upper_limit_g_cm3=None)
    assert "none: no rule" in page(manager, reverse("samples:grade-list"))


def test_a_stranger_is_sent_to_sign_in(grade: Grade) -> None:
    assert Client().get(reverse("samples:grade-list")).status_code == 302
