"""Lots: the list, one lot with its determinations, and the queue of those to be released."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.generic import TemplateView

from labsite.accounts.permissions import PageAccess
from labsite.accounts.roles import Action
from samples import page_words
from samples.models import Determination, Grade, Lot
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
            grades=Grade.objects.filter(retired_at__isnull=True),
            may=may(self.request.user, Action.REGISTER_LOT, Action.MEASURE),
            **kwargs,
        )


class LotPage(PageAccess, TemplateView):
    """One lot; everything on it comes from the API, which masks what is not to be seen yet."""

    required_action = Action.VIEW_LAB
    template_name = "samples/lot.html"
    extra_context = {"words": page_words.LOT}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        lot = get_object_or_404(Lot.objects.select_related("grade"), pk=self.kwargs["pk"])
        person = self.request.user
        allowed = may(person, Action.MEASURE, Action.RELEASE)
        facts = {
            "lot": str(lot.pk),
            "person": str(person.pk),
            "person_name": person.short_name,
            "result_url": reverse("reports:result", args=[ANY]),
            "any": ANY,
            "may": allowed,
        }
        return super().get_context_data(lot=lot, facts=facts, may=allowed, **kwargs)


class ReleaseQueuePage(PageAccess, TemplateView):
    """Determinations that are ready, the oldest first, and which of them one may release."""

    required_action = Action.RELEASE
    template_name = "samples/release.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        person = self.request.user
        ready = (
            Determination.objects.filter(status=Determination.Status.READY)
            .select_related("lot__grade", "prepared_by")
            .prefetch_related("lot__specimens__readings")
            .order_by("prepared_at")
        )
        rows = [(each, _took_part(each, person)) for each in ready]
        return super().get_context_data(rows=rows, **kwargs)


def _took_part(determination: Determination, person: Any) -> bool:
    """Whether the person read or typed a specimen of the lot: then another one releases it."""
    return any(
        person.pk in (reading.read_by_id, reading.entered_by_id)
        for specimen in determination.lot.specimens.all()
        for reading in specimen.readings.all()
    )
