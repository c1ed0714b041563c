"""The history through the API."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from drf_spectacular.utils import OpenApiParameter, OpenApiTypes, extend_schema
from rest_framework.generics import ListAPIView
from rest_framework.response import Response
from rest_framework.views import APIView

from labsite.accounts.roles import Action
from labsite.api.paging import LabCursorPagination
from labsite.audit.api.serializers import (
    DigestSerializer,
    EntrySerializer,
    VerificationSerializer,
    WantedSerializer,
)
from labsite.audit.checking import last_result, verify_history
from labsite.audit.selectors import digests, entries, told_to
from labsite.errors import NotFound


class NewestEntryFirst(LabCursorPagination):
    ordering = "-id"


class NewestDigestFirst(LabCursorPagination):
    ordering = "-number"


FILTERS = [
    OpenApiParameter(name, kind, description=text)
    for name, kind, text in (
        ("object_type", OpenApiTypes.STR, "such as samples.reading"),
        ("object_id", OpenApiTypes.UUID, "one object's chain"),
        ("actor", OpenApiTypes.UUID, "who did it"),
        ("action", OpenApiTypes.STR, "the code of what happened"),
        ("from", OpenApiTypes.DATETIME, "not before"),
        ("to", OpenApiTypes.DATETIME, "before"),
    )
]


@extend_schema(parameters=FILTERS)
class HistoryView(ListAPIView):
    """Who did what, when and why, newest first, with old and new values."""

    required_action = Action.VIEW_HISTORY
    serializer_class = EntrySerializer
    pagination_class = NewestEntryFirst
    filter_backends = ()

    def get_queryset(self) -> Any:
        wanted = WantedSerializer(data=self.request.query_params.dict())
        wanted.is_valid(raise_exception=True)
        return entries(wanted.wanted())

    def paginate_queryset(self, queryset: Any) -> Any:
        return told_to(self.request.user, super().paginate_queryset(queryset))


class VerificationView(APIView):
    """GET: what was found last. POST: verify every chain, digest and row now."""

    required_action = Action.VERIFY_HISTORY

    @extend_schema(responses=VerificationSerializer)
    def get(self, request: Any) -> Response:
        result = last_result()
        if result is None:
            raise NotFound("never_verified", _("The history has not been verified yet."))
        return Response(VerificationSerializer(result).data)

    @extend_schema(request=None, responses=VerificationSerializer)
    def post(self, request: Any) -> Response:
        return Response(VerificationSerializer(verify_history(actor=request.user)).data)


class DigestsView(ListAPIView):
    """The chained digests over all heads, newest first; `body` is the text that is hashed."""

    required_action = Action.VERIFY_HISTORY
    serializer_class = DigestSerializer
    pagination_class = NewestDigestFirst
    filter_backends = ()

    def get_queryset(self) -> Any:
        return digests()
