"""Grades and their recipes: who may keep them, and which limits make no sense."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.errors import Conflict, NotPermitted, RuleViolation
from samples.models import Grade, PreparationRecipe
from samples.services.grades import change_grade, retire_grade
from samples.services.recipes import add_recipe, change_recipe, retire_recipe
from tests import factories

pytestmark = pytest.mark.django_db


def test_a_grade_is_kept_with_its_limits_and_an_entry(manager: User) -> None:
    grade = factories.make_grade(actor=manager)
    entry = AuditEntry.objects.get(object_id=grade.pk)
    assert entry.action == "samples.grade.added"
    assert entry.facts["new"]["lower_limit_g_cm3"] == "0.916200"
    assert entry.actor == manager


@pytest.mark.parametrize("role", ["technician", "shift_lead", "auditor", "administrator"])
def test_only_a_manager_keeps_grades(role: str, manager: User, request: Any) -> None:
    recipe = factories.make_recipe(actor=manager)
    person = request.getfixturevalue(role)
    with pytest.raises(NotPermitted):
        factories.make_grade(actor=person, recipe=recipe)
    with pytest.raises(NotPermitted):
        factories.make_recipe(actor=person, name="another")
    assert not Grade.objects.filter(name="Wren film").exists()


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"lower_limit_g_cm3": "0.935", "upper_limit_g_cm3": "0.925"}, "limits_reversed"),
        ({"lower_limit_g_cm3": "0.918", "upper_limit_g_cm3": "0.918"}, "limits_equal"),
        ({"lower_limit_g_cm3": None}, "limit_missing"),
        ({"upper_limit_g_cm3": None}, "limit_missing"),
        ({"upper_limit_g_cm3": "935"}, "density_unit"),
        ({"expected_density_g_cm3": "950"}, "density_unit"),
        ({"expected_density_g_cm3": "0.095"}, "density_implausible"),
        ({"expected_density_g_cm3": "0.9300"}, "expected_outside_limits"),
        ({"spread_limit_g_cm3": "0"}, "spread_limit_implausible"),
        ({"spread_limit_g_cm3": "0.6"}, "spread_limit_implausible"),
        ({"specimens_required": 2}, "specimens_required_not_valid"),
        ({"repeatability_g_cm3": "0.0002"}, "repeatability_incomplete"),
        ({"expansion_per_k": "6"}, "expansion_not_valid"),
    ],
)
def test_what_makes_no_sense_is_refused(fields: dict[str, Any], code: str, manager: User) -> None:
    recipe = factories.make_recipe(actor=manager)
    typed = {k: Decimal(v) if isinstance(v, str) else v for k, v in fields.items()}
    before = AuditEntry.objects.count()
    with pytest.raises(RuleViolation) as refusal:
        factories.make_grade(actor=manager, recipe=recipe, **typed)
    assert refusal.value.code == code
    assert refusal.value.fields
    assert not Grade.objects.filter(name="Wren film").exists()
    assert AuditEntry.objects.count() == before


def test_a_density_in_kg_per_m3_comes_with_the_question(manager: User) -> None:
    with pytest.raises(RuleViolation) as refusal:
        factories.make_grade(actor=manager, expected_density_g_cm3=Decimal("918.2"))
    assert refusal.value.extra["suggestion"] == "0.9182"


def test_one_limit_or_none_is_allowed_when_meant(manager: User) -> None:
    one = factories.make_grade(actor=manager, upper_limit_g_cm3=None, one_sided=True)
    none = factories.make_grade(
        actor=manager, name="Experiment", lower_limit_g_cm3=None, upper_limit_g_cm3=None
    )
    assert one.upper_limit_g_cm3 is None
    assert none.lower_limit_g_cm3 is None


def test_a_house_plaque_may_be_checked_with_one_piece(manager: User) -> None:
    plaque = factories.make_grade(
        actor=manager, name="Slate", is_control_material=True, specimens_required=1
    )
    assert plaque.specimens_required == 1


def test_two_grades_of_one_name_are_refused_whatever_the_capitals(manager: User) -> None:
    factories.make_grade(actor=manager)
    with pytest.raises(Conflict) as refusal:
        factories.make_grade(
            actor=manager, name="WREN FILM", recipe=PreparationRecipe.objects.first()
        )
    assert refusal.value.code == "name_taken"


def test_a_change_keeps_old_and_new_with_its_reason(manager: User) -> None:
    grade = factories.make_grade(actor=manager)
    change_grade(
        actor=manager,
        grade=grade,
        reason="customer specification 7",
        upper_limit_g_cm3=Decimal("0.9200"),
    )
    entry = AuditEntry.objects.filter(object_id=grade.pk).first()
    assert entry.facts["old"]["upper_limit_g_cm3"] == "0.920200"
    assert entry.facts["new"]["upper_limit_g_cm3"] == "0.920000"
    assert entry.reason == "customer specification 7"


@pytest.mark.parametrize("reason", ["", ".", "  ", "x"])
def test_a_change_needs_a_real_reason(reason: str, manager: User) -> None:
    grade = factories.make_grade(actor=manager)
    with pytest.raises(RuleViolation) as refusal:
        change_grade(actor=manager, grade=grade, reason=reason, specimens_required=4)
    assert refusal.value.code == "reason_required"
    assert Grade.objects.get(name="Wren film").specimens_required == 3


def test_a_retired_grade_takes_no_lot(manager: User, technician: User) -> None:
    grade = factories.make_grade(actor=manager)
    retire_grade(actor=manager, grade=grade, reason="no longer made")
    grade.refresh_from_db()
    with pytest.raises(Conflict) as refusal:
        factories.make_lot(actor=technician, grade=grade)
    assert refusal.value.code == "grade_retired"


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"form": "other"}, "wait_not_known"),
        ({"form": "pellet", "wait_minutes": 0}, "wait_not_valid"),
        ({"form": "film", "thickness_mm": Decimal("0")}, "thickness_not_valid"),
    ],
)
def test_a_recipe_without_a_wait_is_refused(
    fields: dict[str, Any], code: str, manager: User
) -> None:
    with pytest.raises(RuleViolation) as refusal:
        add_recipe(actor=manager, name="Odd", **fields)
    assert refusal.value.code == code
    assert not PreparationRecipe.objects.filter(name="Odd").exists()


def test_a_recipe_in_use_is_not_retired(manager: User) -> None:
    grade = factories.make_grade(actor=manager)
    with pytest.raises(Conflict):
        retire_recipe(actor=manager, recipe=grade.recipe, reason="tidying up")


def test_a_recipe_changes_with_a_reason(manager: User) -> None:
    recipe = factories.make_recipe(actor=manager)
    changed = change_recipe(actor=manager, recipe=recipe, reason="cutter replaced", wait_minutes=20)
    assert changed.version == 2
