"""Reading pieces. The page holds an id at most: what may be seen comes from the API, blind."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.generic import TemplateView

from labsite.accounts.permissions import PageAccess
from labsite.accounts.roles import Action
from samples import page_words
from samples.models import Specimen
from samples.views.bench import ANY


class ReadPage(PageAccess, TemplateView):
    """Read one piece, or without an id the one that has waited longest."""

    required_action = Action.MEASURE
    template_name = "samples/read.html"
    extra_context = {"words": page_words.READ}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        asked = self.kwargs.get("pk")
        if asked is not None:
            get_object_or_404(Specimen, pk=asked)
        facts = {
            "specimen": asked and str(asked),
            "person": str(self.request.user.pk),
            "any": ANY,
            "read_url": reverse("samples:read", args=[ANY]),
            "lot_url": reverse("samples:lot", args=[ANY]),
            "bench_url": reverse("samples:bench"),
            "sign_in_url": reverse("accounts:sign-in"),
        }
        return super().get_context_data(facts=facts, **kwargs)
