"""The OpenAPI description: every operation tells its refusals and its special headers."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter, OpenApiTypes
from rest_framework import serializers


class RefusalSerializer(serializers.Serializer):
    """The one shape of every error."""

    code = serializers.CharField()
    message = serializers.CharField()
    fields = serializers.DictField(child=serializers.ListField(child=serializers.CharField()))


class TokenScheme(OpenApiAuthenticationExtension):
    target_class = "labsite.api.authentication.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer"}


class SessionScheme(OpenApiAuthenticationExtension):
    target_class = "labsite.api.authentication.LabSessionAuthentication"
    name = "session"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "apiKey", "in": "cookie", "name": settings.SESSION_COOKIE_NAME}


REFUSALS = {
    "GET": ("400", "401", "403", "404", "422"),
    "POST": ("400", "401", "403", "404", "409", "413", "415", "422", "429"),
    "PATCH": ("400", "401", "403", "404", "409", "412", "413", "415", "422", "428"),
    "PUT": ("400", "401", "403", "404", "409", "412", "413", "415", "422", "428"),
}


class LabSchema(AutoSchema):
    def get_override_parameters(self) -> list[Any]:
        parameters = []
        if self.method == "POST" and getattr(self.view, "creates_once", False):
            parameters.append(_header("Idempotency-Key", "A value of your own, new per record."))
        if self.method in ("PATCH", "PUT"):
            parameters.append(_header("If-Match", "The ETag of the version you saw."))
        return parameters

    def get_request_serializer(self) -> Any:
        name = {"POST": "input_class", "PATCH": "change_class"}.get(self.method, "")
        return getattr(self.view, name, None) or super().get_request_serializer()

    def get_response_serializers(self) -> Any:
        serializer = super().get_response_serializers()
        if self.method != "POST" or not hasattr(self.view, "success_status"):
            return serializer
        # 200 is also what a replay of the same Idempotency-Key is given
        return {str(self.view.success_status): serializer, "200": serializer}

    def _get_response_bodies(self, direction: str = "response") -> dict[str, Any]:
        bodies = super()._get_response_bodies(direction)
        for status in REFUSALS.get(self.method, ()):
            if status not in bodies:
                bodies[status] = self._get_response_for_code(RefusalSerializer, status)
        return bodies


def _header(name: str, description: str) -> OpenApiParameter:
    return OpenApiParameter(
        name,
        OpenApiTypes.STR,
        OpenApiParameter.HEADER,
        required=True,
        description=description,
    )
