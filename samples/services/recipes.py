"""Preparation recipes: how specimens are made and how long they wait."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

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
from samples.models import PreparationRecipe
from samples.models.grades import Form
from samples.services.waits import wait_of

LONGEST_WAIT_MINUTES = 2880
CHANGEABLE = {"name", "form", "thickness_mm", "wait_minutes", "instructions"}


def add_recipe(
    *,
    actor: User,
    name: str,
    form: str,
    thickness_mm: Decimal | None = None,
    wait_minutes: int | None = None,
    instructions: str = "",
    clock: Clock | None = None,
) -> PreparationRecipe:
    """Add a recipe. Raises Conflict for a name in use, RuleViolation when no wait follows."""
    require(actor, Action.MANAGE_GRADES)
    recipe = PreparationRecipe(
        name=name,
        form=form,
        thickness_mm=thickness_mm,
        wait_minutes=wait_minutes,
        instructions=instructions.strip(),
    )
    with change(actor=actor, clock=clock) as log:
        recipe.name = free_name(PreparationRecipe, name)
        _check(recipe)
        return log.add(recipe, actions.RECIPE_ADDED)


def change_recipe(
    *,
    actor: User,
    recipe: PreparationRecipe,
    reason: str,
    clock: Clock | None = None,
    **fields: Any,
) -> PreparationRecipe:
    """Change a recipe for specimens dropped from now on; those dropped keep their wait."""
    require(actor, Action.MANAGE_GRADES)
    unknown = set(fields) - CHANGEABLE
    if unknown:
        raise TypeError(f"not fields of a recipe: {unknown}")
    with change(actor=actor, clock=clock, reason=require_reason(reason)) as log:
        recipe = locked(recipe)
        fields = named_fields(recipe, fields)
        _check(PreparationRecipe(pk=recipe.pk, **{**_values(recipe), **fields}))
        return log.update(recipe, actions.RECIPE_CHANGED, **fields)


def retire_recipe(
    *, actor: User, recipe: PreparationRecipe, reason: str, clock: Clock | None = None
) -> PreparationRecipe:
    """Take a recipe out of use; grades that have it must get another first."""
    require(actor, Action.MANAGE_GRADES)
    with change(actor=actor, clock=clock, reason=require_reason(reason)) as log:
        recipe = locked(recipe)
        if recipe.retired_at is not None:
            return recipe
        if recipe.grades.filter(retired_at__isnull=True).exists():
            raise Conflict(
                "recipe_in_use", _("Grades still use this recipe. Give them another one first.")
            )
        return log.update(recipe, actions.RECIPE_RETIRED, retired_at=log.now)


def _values(recipe: PreparationRecipe) -> dict[str, Any]:
    return {name: getattr(recipe, name) for name in CHANGEABLE}


def _check(recipe: PreparationRecipe) -> None:
    wait = recipe.wait_minutes
    if wait is not None and not 0 < wait <= LONGEST_WAIT_MINUTES:
        raise RuleViolation(
            "wait_not_valid",
            _("The wait is between 1 minute and %(most)s minutes.")
            % {"most": LONGEST_WAIT_MINUTES},
            fields={"wait_minutes": [_("out of range")]},
        )
    needs_no_thickness = recipe.form == Form.FILM and recipe.thickness_mm is None
    if not needs_no_thickness:  # a film's thickness may come with the specimen
        wait_of(recipe.form, recipe.thickness_mm, own_minutes=wait)
