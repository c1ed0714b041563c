"""Floats: the shelf, and one float with its certificates, stays and quarantines."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db.models import Prefetch
from django.shortcuts import get_object_or_404, render
from django.utils.timezone import localdate
from django.views import View

from columns.models import CalibrationFloat, Certificate, FloatPlacement, FloatQuarantine
from columns.selectors.floats import float_table
from columns.views import acts
from labsite.accounts.permissions import PageAccess, can
from labsite.accounts.roles import Action
from labsite.web.acts import Act

SOON_DAYS = 60


class FloatListPage(PageAccess, View):
    """All floats: density, certificate, where each is. Lapsing certificates stand first."""

    required_action = Action.VIEW_LAB

    def get(self, request: Any) -> Any:
        rows = float_rows(localdate())
        add = [acts.register_float()] if can(request.user, Action.MANAGE_EQUIPMENT) else []
        lapsing = [row for row in rows if row["days_left"] is None or row["days_left"] <= SOON_DAYS]
        return render(
            request,
            "columns/floats.html",
            {"rows": rows, "acts": add, "lapsing": lapsing, "soon_days": SOON_DAYS},
        )


def float_rows(day: date) -> list[dict[str, Any]]:
    """One row a float in a fixed number of queries."""
    here = FloatPlacement.objects.filter(removed_at__isnull=True).select_related("fill__column")
    open_quarantines = FloatQuarantine.objects.filter(lifted_at__isnull=True)
    floats = list(
        CalibrationFloat.objects.prefetch_related(
            Prefetch("placements", queryset=here, to_attr="present"),
            Prefetch("quarantines", queryset=open_quarantines, to_attr="doubts"),
        )
    )
    certificates = float_table(floats, day)
    return [_float_row(each, certificates[each.pk], day) for each in floats]


def _float_row(
    each: CalibrationFloat, certificate: Certificate | None, day: date
) -> dict[str, Any]:
    return {
        "float": each,
        "certificate": certificate,
        "days_left": (certificate.valid_until - day).days if certificate else None,
        "column": each.present[0].fill.column if each.present else None,
        "quarantine": each.doubts[0] if each.doubts else None,
    }


class FloatPage(PageAccess, View):
    """One float."""

    required_action = Action.VIEW_LAB

    def get(self, request: Any, pk: Any) -> Any:
        found = get_object_or_404(CalibrationFloat, pk=pk)
        certificates = [
            (each, _document_act(request.user, each)) for each in found.certificates.all()
        ]
        facts = {
            "float": found,
            "today": localdate(),
            "certificates": certificates,
            "placements": found.placements.select_related("fill__column").order_by("-placed_at"),
            "quarantines": found.quarantines.select_related("placed_by", "lifted_by"),
            "acts": _float_acts(request.user, found),
        }
        return render(request, "columns/float.html", facts)


def _document_act(user: Any, certificate: Certificate) -> Act | None:
    if certificate.document or not can(user, Action.MANAGE_EQUIPMENT):
        return None
    return acts.attach_document(certificate)


def _float_acts(user: Any, found: CalibrationFloat) -> list[Act]:
    open_quarantine = found.quarantines.filter(lifted_at__isnull=True).first()
    listed = []
    if can(user, Action.MANAGE_EQUIPMENT):
        listed.append(acts.add_certificate(found))
    if open_quarantine is None and can(user, Action.PLACE_HOLD):
        listed.append(acts.quarantine(found))
    if open_quarantine is not None and can(user, Action.LIFT_HOLD):
        listed.append(acts.lift_quarantine(open_quarantine))
    if found.retired_at is None and can(user, Action.MANAGE_EQUIPMENT):
        listed.append(acts.retire_float(found))
    return listed
