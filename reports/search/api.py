"""Search through the API."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from labsite.accounts.roles import Action
from labsite.api.fields import LineField, StrictSerializer
from reports.search.forms import LONGEST
from reports.search.selectors import KINDS, Found, Hit, other_kind, search
from reports.search.wording import address_of, what_it_is


class QuerySerializer(StrictSerializer):
    q = LineField(max_length=LONGEST)
    kind = serializers.ChoiceField(choices=KINDS, required=False)


class HitSerializer(serializers.Serializer):
    kind = serializers.ChoiceField(choices=KINDS)
    id = serializers.UUIDField()
    name = serializers.CharField()
    note = serializers.CharField()
    is_exact = serializers.BooleanField()
    page = serializers.SerializerMethodField()

    def get_page(self, hit: Hit) -> str:
        return address_of(hit)


class FoundSerializer(serializers.Serializer):
    """`more`: kinds with more than is listed. `hint`: this is another kind of thing."""

    query = serializers.CharField()
    results = HitSerializer(many=True)
    more = serializers.ListField(child=serializers.CharField())
    hint = serializers.CharField(allow_null=True)


class SearchView(APIView):
    """Lots by code, floats by label, columns by name; the exact one first, then its beginnings."""

    required_action = Action.VIEW_LAB

    @extend_schema(
        parameters=[
            OpenApiParameter("q", str, required=True, description="what is written on it"),
            OpenApiParameter("kind", str, enum=KINDS, description="what it should be"),
        ],
        responses=FoundSerializer,
    )
    def get(self, request: Any) -> Response:
        query = QuerySerializer(data=request.query_params.dict())
        query.is_valid(raise_exception=True)
        text, kind = query.validated_data["q"], query.validated_data.get("kind")
        return Response(FoundSerializer(_answer(text, kind, search(text))).data)


def _answer(text: str, kind: str | None, found: Found) -> dict[str, Any]:
    other = other_kind(found, kind)
    return {
        "query": text,
        "results": found.hits,
        "more": found.more,
        "hint": what_it_is(other) if other else None,
    }
