"""The API's own description."""

from __future__ import annotations

from django.urls import path
from drf_spectacular.views import SpectacularAPIView

from labsite.accounts.roles import Action


class SchemaView(SpectacularAPIView):
    """The OpenAPI description of this API."""

    required_action = Action.VIEW_LAB


urlpatterns = [path("schema/", SchemaView.as_view(), name="api-schema")]
