"""Lots: the list, one lot with its determinations, and the queue of those to be released."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from django.urls import NoReverseMatch, reverse
from django.utils.formats import get_format
from django.utils.translation import gettext as _
from django.views.generic import TemplateView

from labsite.accounts.permissions import PageAccess
from labsite.accounts.roles import Action
from labsite.quantities import format_result
from samples import page_words
from samples.findings import LOOK, level_of
from samples.models import Determination, Grade, Lot, Reading
from samples.selectors.blindness import blind_lots
from samples.selectors.determinations import Barred, barred_from_release
from samples.selectors.lots import WaitsFor
from samples.views.bench import ANY, may


class LotListPage(PageAccess, TemplateView):
    """All lots, newest first, by what they wait for."""

    required_action = Action.VIEW_LAB
    template_name = "samples/lots.html"
    extra_context = {"words": page_words.LOTS}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        facts = {"lot_url": reverse("samples:lot", args=[ANY]), "any": ANY}
        return super().get_context_data(
            facts=facts,
            grades=Grade.objects.order_by("name"),
            grades_in_use=Grade.objects.filter(retired_at__isnull=True).order_by("name"),
            waits=WaitsFor.choices,
            may=may(self.request.user, Action.REGISTER_LOT),
            **kwargs,
        )


class LotPage(PageAccess, TemplateView):
    """One lot; everything on it comes from the API, which masks what is not to be seen yet."""

    required_action = Action.VIEW_LAB
    template_name = "samples/lot.html"
    extra_context = {"words": page_words.LOT, "outcomes": Reading.Outcome.choices}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        lot = get_object_or_404(Lot.objects.select_related("grade"), pk=self.kwargs["pk"])
        person = self.request.user
        allowed = may(person, Action.MEASURE, Action.RELEASE)
        facts = {
            "lot": str(lot.pk),
            "code": lot.code,
            "person": str(person.pk),
            "person_name": person.short_name,
            "result_url": _result_url(),
            "any": ANY,
            "may": allowed,
        }
        return super().get_context_data(lot=lot, facts=facts, may=allowed, **kwargs)


def _result_url() -> str | None:
    """The printable result belongs to a part of the site above this one; it may be left out."""
    try:
        return reverse("reports:result", args=[ANY])
    except NoReverseMatch:
        return None


class ReleaseQueuePage(PageAccess, TemplateView):
    """Determinations that are ready, the oldest first, and which of them one may release."""

    required_action = Action.RELEASE
    template_name = "samples/release.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        person = self.request.user
        ready = list(
            Determination.objects.filter(status=Determination.Status.READY)
            .select_related("lot__grade", "prepared_by", "amends")
            .order_by("prepared_at")
        )
        barred = barred_from_release(person, ready)
        blind = blind_lots(person, [each.lot_id for each in ready])
        rows = [_queue_row(each, each.lot_id in blind, barred.get(each.pk)) for each in ready]
        mine = sum(not row["why_not"] for row in rows)
        return super().get_context_data(rows=rows, mine=mine, **kwargs)


def _queue_row(each: Determination, is_blind: bool, barred: Barred | None) -> dict[str, Any]:
    """Nothing of what was measured to who has still to read a piece of the lot."""
    if is_blind:
        return {"determination": each, "why_not": _("You still have a piece of this lot to read.")}
    return {
        "determination": each,
        "why_not": barred.message if barred else "",
        "number": _number(each),
        "to_judge": sum(level_of(found["code"]) == LOOK for found in each.finding_list),
    }


def _number(determination: Determination) -> str:
    return format_result(
        determination.density_g_cm3,
        determination.expanded_uncertainty_g_cm3,
        unit=False,
        decimal_mark=get_format("DECIMAL_SEPARATOR"),
    )
