"""Dropping pieces: lot, recipe, column and shape, then "Dropped now"."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from django.views.generic import TemplateView

from labsite.accounts.permissions import PageAccess
from labsite.accounts.roles import Action
from samples import page_words
from samples.views.bench import ANY, may


class DropPage(PageAccess, TemplateView):
    required_action = Action.MEASURE
    template_name = "samples/drop.html"
    extra_context = {"words": page_words.DROP}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        person = self.request.user
        facts = {
            "person": str(person.pk),
            "lot": self.request.GET.get("lot", ""),
            "any": ANY,
            "column_url": reverse("samples:column", args=[ANY]),
            "sign_in_url": reverse("accounts:sign-in"),
            "may": may(person, Action.REGISTER_LOT, Action.OVERRIDE_CLOSED),
        }
        return super().get_context_data(facts=facts, **kwargs)
