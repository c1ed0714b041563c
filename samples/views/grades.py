"""Grades and preparation recipes: kept by the manager, seen by everybody."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views import View

from labsite.accounts.permissions import PageAccess, can
from labsite.accounts.roles import Action
from labsite.web.acts import Act, Entry, reason_entry
from samples.models import Grade, PreparationRecipe
from samples.models.grades import Form

API = "/api/v1"


class GradeListPage(PageAccess, View):
    """All grades and recipes."""

    required_action = Action.VIEW_LAB

    def get(self, request: Any) -> Any:
        keeps = can(request.user, Action.MANAGE_GRADES)
        facts = {
            "grades": Grade.objects.select_related("recipe"),
            "recipes": [
                (recipe, change_recipe(recipe) if keeps else None)
                for recipe in PreparationRecipe.objects.all()
            ],
            "acts": [add_grade(), add_recipe()] if keeps else [],
        }
        return render(request, "samples/grades.html", facts)


class GradePage(PageAccess, View):
    """One grade: what it is held to, and how it is measured."""

    required_action = Action.VIEW_LAB

    def get(self, request: Any, pk: Any) -> Any:
        grade = get_object_or_404(Grade.objects.select_related("recipe"), pk=pk)
        keeps = can(request.user, Action.MANAGE_GRADES) and grade.retired_at is None
        facts = {
            "grade": grade,
            "acts": [change_grade(grade), retire_grade(grade)] if keeps else [],
            "lots": grade.lots.order_by("-received_at")[:20],
        }
        return render(request, "samples/grade.html", facts)


def grade_entries(grade: Grade | None = None) -> tuple[Entry, ...]:
    def value(name: str, default: Any = "") -> Any:
        return getattr(grade, name) if grade else default

    density = {"kind": "decimal", "unit": _("g/cm³")}
    free = {"required": False, "clears": grade is not None}
    recipes = PreparationRecipe.objects.filter(retired_at__isnull=True)
    return (
        Entry("name", _("Name"), value=value("name")),
        Entry(
            "recipe",
            _("Preparation recipe"),
            "choice",
            value("recipe_id"),
            options=[(recipe.pk, recipe.name) for recipe in recipes],
        ),
        Entry(
            "expected_density_g_cm3",
            _("Expected density"),
            value=value("expected_density_g_cm3"),
            **density,
        ),
        Entry(
            "lower_limit_g_cm3",
            _("Lower limit"),
            value=value("lower_limit_g_cm3"),
            **density,
            **free,
        ),
        Entry(
            "upper_limit_g_cm3",
            _("Upper limit"),
            value=value("upper_limit_g_cm3"),
            **density,
            **free,
        ),
        Entry(
            "one_sided",
            _("One limit only, on purpose"),
            "yes_no",
            grade is not None
            and (grade.lower_limit_g_cm3 is None) != (grade.upper_limit_g_cm3 is None),
        ),
        Entry(
            "spread_limit_g_cm3",
            _("Largest range of the specimens"),
            value=value("spread_limit_g_cm3"),
            **density,
        ),
        Entry("specimens_required", _("Specimens"), "whole", value("specimens_required", 3)),
        Entry(
            "reported_figure",
            _("Reported figure"),
            "choice",
            value("reported_figure", Grade.Figure.BRACKETING),
            options=Grade.Figure.choices,
            hint=_("Both are always computed and shown."),
        ),
        Entry(
            "repeatability_g_cm3",
            _("Pooled repeatability"),
            value=value("repeatability_g_cm3"),
            **density,
            **free,
        ),
        Entry(
            "repeatability_degrees_of_freedom",
            _("Its degrees of freedom"),
            "whole",
            value("repeatability_degrees_of_freedom"),
            **free,
        ),
        Entry(
            "expansion_per_k",
            _("Volume expansion"),
            "decimal",
            value("expansion_per_k"),
            unit=_("1/K"),
            **free,
        ),
        Entry(
            "is_control_material", _("House plaque"), "yes_no", value("is_control_material", False)
        ),
    )


def add_grade() -> Act:
    return Act(
        "grade",
        _("Add a grade"),
        _("Add"),
        f"{API}/grades/",
        grade_entries(),
        then=reverse("samples:grade-list") + "{id}/",
    )


def change_grade(grade: Grade) -> Act:
    return Act(
        "grade",
        _("Change this grade"),
        _("Save"),
        f"{API}/grades/{grade.pk}/",
        (*grade_entries(grade), reason_entry(_("Why it is changed"))),
        etag=grade.etag,
        note=_("What was decided before keeps the limits of its day."),
    )


def retire_grade(grade: Grade) -> Act:
    return Act(
        "retire",
        _("Retire this grade"),
        _("Retire"),
        f"{API}/grades/{grade.pk}/retire/",
        (reason_entry(_("Why")),),
    )


def recipe_entries(recipe: PreparationRecipe | None = None) -> tuple[Entry, ...]:
    def value(name: str) -> Any:
        return getattr(recipe, name) if recipe else ""

    free = {"required": False, "clears": recipe is not None}
    return (
        Entry("name", _("Name"), value=value("name")),
        Entry("form", _("Form"), "choice", value("form"), options=Form.choices),
        Entry(
            "thickness_mm", _("Thickness"), "decimal", value("thickness_mm"), unit=_("mm"), **free
        ),
        Entry(
            "wait_minutes",
            _("Own wait before reading"),
            "whole",
            value("wait_minutes"),
            unit=_("min"),
            hint=_("Empty: it follows from form and thickness."),
            **free,
        ),
        Entry("instructions", _("Instructions"), "long", value("instructions"), required=False),
    )


def add_recipe() -> Act:
    return Act("recipe", _("Add a recipe"), _("Add"), f"{API}/recipes/", recipe_entries())


def change_recipe(recipe: PreparationRecipe) -> Act:
    return Act(
        f"recipe-{recipe.pk}",
        _("Change"),
        _("Save"),
        f"{API}/recipes/{recipe.pk}/",
        (*recipe_entries(recipe), reason_entry(_("Why it is changed"))),
        etag=recipe.etag,
    )
