"""The page on which the lab is set up."""

from __future__ import annotations

from typing import Any

from django.shortcuts import render
from django.views import View

from columns.models import Bath, Column, LabRules, LiquidPair, ReaderRepeatability, Thermometer
from columns.selectors.rules import lab_rules
from columns.views import equipment_acts as acts
from labsite.accounts.permissions import PageAccess, can
from labsite.accounts.roles import Action


class EquipmentPage(PageAccess, View):
    """Baths, thermometers, columns, pairs and the rules; read-only for who may not change them."""

    required_action = Action.VIEW_LAB

    def get(self, request: Any) -> Any:
        keeps = can(request.user, Action.MANAGE_EQUIPMENT)
        rules = can(request.user, Action.MANAGE_RULES)
        return render(request, "columns/equipment.html", {**_equipment(keeps), **_rules(rules)})


def _equipment(keeps: bool) -> dict[str, Any]:
    def rows(records: Any, change: Any) -> list[tuple[Any, Any]]:
        return [(each, change(each) if keeps else None) for each in records]

    adders = (acts.add_bath, acts.add_thermometer, acts.add_column, acts.add_pair)
    bath, thermometer, column, pair = [add() if keeps else None for add in adders]
    return {
        "baths": rows(Bath.objects.all(), acts.change_bath),
        "thermometers": rows(Thermometer.objects.select_related("bath"), acts.change_thermometer),
        "columns": rows(Column.objects.select_related("bath"), acts.change_column),
        "pairs": rows(LiquidPair.objects.all(), acts.change_pair),
        "add_bath": bath,
        "add_thermometer": thermometer,
        "add_column": column,
        "add_pair": pair,
    }


def _rules(may_change: bool) -> dict[str, Any]:
    rules = lab_rules()
    names = [
        field
        for field in LabRules._meta.concrete_fields
        if field.name not in ("id", "version", "created_at")
    ]
    return {
        "rules": [(field.verbose_name, getattr(rules, field.name)) for field in names],
        "change_rules": acts.change_rules(rules) if may_change else None,
        "repeatabilities": ReaderRepeatability.objects.select_related("person"),
        "add_repeatability": acts.add_repeatability() if may_change else None,
    }
