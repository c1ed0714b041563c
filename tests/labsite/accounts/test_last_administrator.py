"""Somebody who can keep accounts is always left, whoever is faster."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from labsite.accounts.models import User
from labsite.accounts.roles import Role
from labsite.accounts.services import change_person, close_account, reopen_account
from labsite.errors import RuleViolation
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def second(administrator: User) -> User:
    return factories.make_person(username="second", role=Role.ADMINISTRATOR)


def test_two_cannot_close_each_other(administrator: User, second: User) -> None:
    """`second` asked before it was closed; its wish is looked at afterwards."""
    close_account(actor=administrator, person=second, reason="has left")
    with pytest.raises(RuleViolation) as refused:
        close_account(actor=second, person=administrator, reason="has left")
    assert refused.value.code == "last_administrator"


def test_two_cannot_take_each_others_role(administrator: User, second: User) -> None:
    change_person(actor=administrator, person=second, role=Role.MANAGER)
    with pytest.raises(RuleViolation, match="No other administrator"):
        change_person(actor=second, person=administrator, role=Role.MANAGER)


def test_one_whose_last_day_is_set_does_not_count(administrator: User, second: User) -> None:
    ends_on = timezone.localdate() + timedelta(days=7)
    change_person(actor=administrator, person=second, ends_on=ends_on)
    with pytest.raises(RuleViolation, match="No other administrator"):
        change_person(actor=second, person=administrator, ends_on=ends_on)


def test_the_second_one_can_go_and_come_back(administrator: User, second: User) -> None:
    close_account(actor=administrator, person=second, reason="on leave")
    reopened = reopen_account(actor=administrator, person=second, reason="is back")
    assert reopened.is_active
