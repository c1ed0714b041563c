"""The lab's rules, people's repeatability, and holds."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from columns import audit_actions as actions
from columns.models import Fill, Hold, LabRules, ReaderRepeatability
from columns.selectors.rules import lab_rules, repeatability_mm
from columns.services.holds import lift_hold, place_hold
from columns.services.rules import change_lab_rules, set_reader_repeatability, set_up_lab_rules
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.errors import Conflict, LabError, NotPermitted, RuleViolation
from tests import factories

pytestmark = pytest.mark.django_db


def test_rules_are_set_up_on_first_use_by_the_app_itself(entries_of: Any) -> None:
    assert not LabRules.objects.exists()
    rules = lab_rules()
    assert lab_rules() == rules
    assert entries_of(rules) == [actions.RULES_SET_UP]
    assert AuditEntry.objects.get(object_id=rules.pk).actor.is_system
    assert (rules.calibration_max_age_hours, rules.minimum_floats) == (8, 5)


def test_two_processes_set_up_one_row() -> None:
    assert set_up_lab_rules() == set_up_lab_rules()
    assert LabRules.objects.count() == 1


def test_a_manager_changes_rules_with_a_reason(manager: User, entries_of: Any) -> None:
    rules = change_lab_rules(
        actor=manager, rules=lab_rules(), reason="audit finding 3", pass_hold_off_hours=24
    )
    assert lab_rules().pass_hold_off_hours == 24
    assert entries_of(rules) == [actions.RULES_SET_UP, actions.RULES_CHANGED]
    with pytest.raises(RuleViolation):
        change_lab_rules(actor=manager, rules=lab_rules(), reason=".", minimum_floats=4)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("calibration_max_age_hours", 0),
        ("minimum_floats", 1),
        ("pass_hold_off_hours", -1),
        ("settling_agreement_mm", Decimal(21)),
        ("height_repeatability_mm", Decimal(0)),
        ("late_entry_minutes", 0),
    ],
)
def test_a_rule_outside_its_range_is_refused_by_field(manager: User, name: str, value: Any) -> None:
    with pytest.raises(RuleViolation) as caught:
        change_lab_rules(actor=manager, rules=lab_rules(), reason="a try", **{name: value})
    assert (caught.value.code, list(caught.value.fields)) == ("rule_out_of_range", [name])


def test_rules_are_for_managers(shift_lead: User, administrator: User) -> None:
    for person in (shift_lead, administrator):
        with pytest.raises(NotPermitted):
            change_lab_rules(actor=person, rules=lab_rules(), reason="a try", minimum_floats=4)


def test_a_persons_own_repeatability_counts_before_the_labs(
    manager: User, technician: User, entries_of: Any
) -> None:
    assert repeatability_mm(technician) == Decimal("0.30")
    for value in ("0.40", "0.35"):
        found = set_reader_repeatability(
            actor=manager,
            person=technician,
            standard_deviation_mm=Decimal(value),
            source="ten repeated sets",
        )
    assert repeatability_mm(technician) == Decimal("0.35")
    assert ReaderRepeatability.objects.count() == 1
    assert entries_of(found) == [actions.REPEATABILITY_SET, actions.REPEATABILITY_CHANGED]


@pytest.mark.parametrize("value", ["0", "10.01"])
def test_a_repeatability_that_cannot_be_is_refused(
    manager: User, technician: User, value: str
) -> None:
    with pytest.raises(RuleViolation) as caught:
        set_reader_repeatability(
            actor=manager,
            person=technician,
            standard_deviation_mm=Decimal(value),
            source="ten repeated sets",
        )
    assert caught.value.code == "repeatability_implausible"


# Holds


def place(fill: Fill, actor: User, **fields: Any) -> Hold:
    words = {"reason": "cloudy below F-105", "lifts_when": "clear again"} | fields
    return place_hold(actor=actor, fill=fill, **words)


def test_a_technician_places_a_hold_and_a_lead_lifts_it(
    open_fill: Fill, technician: User, shift_lead: User, entries_of: Any
) -> None:
    hold = place(open_fill, technician)
    with pytest.raises(NotPermitted):
        lift_hold(actor=technician, hold=hold, reason="clear again")
    lifted = lift_hold(actor=shift_lead, hold=hold, reason="clear again")
    assert (lifted.placed_by, lifted.lifted_by) == (technician, shift_lead)
    assert entries_of(hold) == [actions.HOLD_PLACED, actions.HOLD_LIFTED]
    with pytest.raises(Conflict) as caught:
        lift_hold(actor=shift_lead, hold=hold, reason="clear again")
    assert caught.value.code == "already_lifted"


@pytest.mark.parametrize("field", ["reason", "lifts_when"])
def test_a_hold_tells_why_and_what_lifts_it(open_fill: Fill, technician: User, field: str) -> None:
    with pytest.raises(RuleViolation) as caught:
        place(open_fill, technician, **{field: " . "})
    assert list(caught.value.fields) == [field]
    assert not Hold.objects.exists()


def test_an_auditor_places_no_hold(open_fill: Fill, auditor: User) -> None:
    with pytest.raises(NotPermitted):
        place(open_fill, auditor)


def test_a_plan_is_not_put_on_hold(shift_lead: User) -> None:
    with pytest.raises(LabError) as caught:
        place(factories.make_planned_fill(actor=shift_lead), shift_lead)
    assert caught.value.code == "wrong_state"
