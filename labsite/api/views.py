"""Base views: a view names its serializers and actions, and calls one service.

`serializer_class` is what goes out, `input_class` what a POST takes, `change_class` what a PATCH
takes. `create`, `change` and `act` are the one call of a service.
"""

from __future__ import annotations

from typing import Any

from django.db import transaction
from rest_framework.generics import GenericAPIView
from rest_framework.mixins import ListModelMixin
from rest_framework.response import Response

from labsite.api.etags import require_match, tagged
from labsite.api.idempotency import create_once
from labsite.records import LabRecord


class LabView(GenericAPIView):
    """Reads input strictly and represents records by `serializer_class`."""

    def read(self, input_class: Any, *, partial: bool = False) -> dict[str, Any]:
        """The validated body; refusals tell the field."""
        serializer = input_class(
            data=self.request.data, partial=partial, context=self.get_serializer_context()
        )
        serializer.is_valid(raise_exception=True)
        return serializer.validated_data

    def represent(self, record: Any) -> Any:
        return self.get_serializer(record).data


class ListView(ListModelMixin, LabView):
    """GET: a page of rows, newest first."""

    def get(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        return self.list(request, *args, **kwargs)


class ListCreateView(ListView):
    """POST as well: one new row, made once for an Idempotency-Key."""

    creates_once = True
    success_status = 201
    input_class: Any

    def post(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        return create_once(
            request,
            lambda: self.represent(self.create(request.user, self.read(self.input_class))),
            status=self.success_status,
        )

    def create(self, actor: Any, data: dict[str, Any]) -> LabRecord:
        raise NotImplementedError


class RecordView(LabView):
    """GET: one row with its ETag."""

    def get(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        record = self.get_object()
        return tagged(record, self.represent(record))


class ChangeableRecordView(RecordView):
    """PATCH as well: the caller names the version that it saw in If-Match."""

    change_class: Any

    def patch(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        with transaction.atomic():
            record = self.get_locked_object()
            require_match(request, record, self.represent)
            data = self.read(self.change_class, partial=True)
            record = self.change(request.user, record, data)
        return tagged(record, self.represent(record))

    def get_locked_object(self) -> LabRecord:
        """Locked, so that nobody changes it between the look at If-Match and the change."""
        record = self.get_object()
        return type(record)._base_manager.select_for_update().get(pk=record.pk)

    def change(self, actor: Any, record: Any, data: dict[str, Any]) -> LabRecord:
        raise NotImplementedError


class ActionView(LabView):
    """POST on a row: something happens to it, once for an Idempotency-Key.

    `queryset` finds the row; `serializer_class` represents what `act` returns.
    """

    creates_once = True
    success_status = 200
    input_class: Any

    def post(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        return create_once(
            request,
            lambda: self.represent(
                self.act(request.user, self.get_object(), self.read(self.input_class))
            ),
            status=self.success_status,
        )

    def act(self, actor: Any, record: Any, data: dict[str, Any]) -> Any:
        raise NotImplementedError
