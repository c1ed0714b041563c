"""Grades: products, what is expected of them and the limits they are held to."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from columns.physics.constants import SPECIMENS_PER_DETERMINATION
from columns.services.locks import locked
from columns.services.names import free_name, named_fields
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import change
from labsite.clock import Clock
from labsite.errors import Conflict, RuleViolation
from labsite.reasons import require_reason
from samples import audit_actions as actions
from samples.models import Grade, PreparationRecipe
from samples.services import densities

MOST_SPECIMENS = 20
LARGEST_EXPANSION_PER_K = Decimal("0.01")
CHANGEABLE = {
    "name",
    "recipe",
    "lower_limit_g_cm3",
    "upper_limit_g_cm3",
    "expected_density_g_cm3",
    "spread_limit_g_cm3",
    "specimens_required",
    "reported_figure",
    "repeatability_g_cm3",
    "repeatability_degrees_of_freedom",
    "expansion_per_k",
    "is_control_material",
}


def add_grade(
    *,
    actor: User,
    name: str,
    recipe: PreparationRecipe,
    expected_density_g_cm3: Decimal,
    spread_limit_g_cm3: Decimal,
    one_sided: bool = False,
    clock: Clock | None = None,
    **fields: Any,
) -> Grade:
    """Add a grade; `fields` are further fields of Grade.

    Raises RuleViolation for limits out of order, one limit alone unless `one_sided`, a density
    in another unit; Conflict for a name in use.
    """
    require(actor, Action.MANAGE_GRADES)
    _refuse_unknown(fields)
    grade = Grade(
        name=name,
        recipe=recipe,
        expected_density_g_cm3=expected_density_g_cm3,
        spread_limit_g_cm3=spread_limit_g_cm3,
        **fields,
    )
    with change(actor=actor, clock=clock) as log:
        grade.name = free_name(Grade, name)
        _check(grade, one_sided=one_sided)
        return log.add(grade, actions.GRADE_ADDED)


def change_grade(
    *,
    actor: User,
    grade: Grade,
    reason: str,
    one_sided: bool = False,
    clock: Clock | None = None,
    **fields: Any,
) -> Grade:
    """Change a grade. Determinations keep the limits that stood when they were prepared."""
    require(actor, Action.MANAGE_GRADES)
    _refuse_unknown(fields)
    with change(actor=actor, clock=clock, reason=require_reason(reason)) as log:
        grade = locked(grade)
        fields = named_fields(grade, fields)
        present = {name: getattr(grade, name) for name in CHANGEABLE}
        had_one_limit = (grade.lower_limit_g_cm3 is None) != (grade.upper_limit_g_cm3 is None)
        touches_limits = {"lower_limit_g_cm3", "upper_limit_g_cm3"} & set(fields)
        _check(
            Grade(pk=grade.pk, **{**present, **fields}),
            one_sided=one_sided or (had_one_limit and not touches_limits),
        )
        return log.update(grade, actions.GRADE_CHANGED, **fields)


def retire_grade(*, actor: User, grade: Grade, reason: str, clock: Clock | None = None) -> Grade:
    """Take a grade out of use: no new lot of it can be registered."""
    require(actor, Action.MANAGE_GRADES)
    with change(actor=actor, clock=clock, reason=require_reason(reason)) as log:
        grade = locked(grade)
        if grade.retired_at is not None:
            return grade
        return log.update(grade, actions.GRADE_RETIRED, retired_at=log.now)


def _refuse_unknown(fields: dict[str, Any]) -> None:
    unknown = set(fields) - CHANGEABLE
    if unknown:
        raise TypeError(f"not fields of a grade: {unknown}")


def _check(grade: Grade, *, one_sided: bool) -> None:
    if grade.recipe.retired_at is not None:
        raise Conflict("recipe_retired", _("This recipe is out of use. Choose another."))
    densities.check_density(grade.expected_density_g_cm3, "expected_density_g_cm3")
    lower, upper = grade.lower_limit_g_cm3, grade.upper_limit_g_cm3
    densities.check_limits(lower, upper, one_sided=one_sided)
    densities.check_inside(grade.expected_density_g_cm3, lower, upper)
    densities.check_spread_limit(grade.spread_limit_g_cm3)
    _check_number(grade)
    _check_repeatability(grade)
    _check_expansion(grade)


def _check_number(grade: Grade) -> None:
    """A product needs the standard's three specimens; a house plaque may be checked with one."""
    fewest = 1 if grade.is_control_material else SPECIMENS_PER_DETERMINATION
    if not fewest <= grade.specimens_required <= MOST_SPECIMENS:
        raise RuleViolation(
            "specimens_required_not_valid",
            _("A determination takes %(fewest)s to %(most)s specimens.")
            % {"fewest": fewest, "most": MOST_SPECIMENS},
            fields={"specimens_required": [_("out of range")]},
        )


def _check_repeatability(grade: Grade) -> None:
    figure, freedom = grade.repeatability_g_cm3, grade.repeatability_degrees_of_freedom
    if (figure is None) != (freedom is None):
        missing = "repeatability_g_cm3" if figure is None else "repeatability_degrees_of_freedom"
        raise RuleViolation(
            "repeatability_incomplete",
            _("A pooled repeatability comes with its degrees of freedom, or not at all."),
            fields={missing: [_("missing")]},
        )
    if figure is None:
        return
    if not (0 < figure <= grade.spread_limit_g_cm3 and freedom >= 1):
        raise RuleViolation(
            "repeatability_not_valid",
            _("The pooled repeatability is above 0, not above the largest range of the specimens."),
            fields={"repeatability_g_cm3": [_("out of range")]},
        )


def _check_expansion(grade: Grade) -> None:
    figure = grade.expansion_per_k
    if figure is not None and not 0 < figure <= LARGEST_EXPANSION_PER_K:
        raise RuleViolation(
            "expansion_not_valid",
            _("The volume expansion per kelvin is above 0 and at most %(most)s.")
            % {"most": LARGEST_EXPANSION_PER_K},
            fields={"expansion_per_k": [_("for example 0.0006")]},
        )
