"""Imports through the API: preview a file, save it, list what was saved."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.parsers import MultiPartParser
from rest_framework.response import Response

from labsite.accounts.roles import Action
from labsite.api.views import LabView, ListCreateView, RecordView
from reports.imports.representations import preview_facts
from reports.imports.selectors import imports
from reports.imports.serializers import (
    ImportCommitInput,
    ImportDetailSerializer,
    ImportPreviewInput,
    ImportPreviewSerializer,
    ImportSerializer,
)
from reports.imports.services import commit_import, preview_import
from reports.imports.signatures import LARGEST_BYTES, refuse_large

ROOM_FOR_FIELDS = 64 * 1024


class TakesFile:
    """Refuses a body that is too large before a byte of it is read."""

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        size = int(request.META.get("CONTENT_LENGTH") or 0)
        if size > LARGEST_BYTES + ROOM_FOR_FIELDS:
            refuse_large(size)
        super().initial(request, *args, **kwargs)

    def file_facts(self, data: dict[str, Any]) -> dict[str, Any]:
        upload = data["file"]
        refuse_large(upload.size)
        return {"file_name": upload.name, "content": upload.read()}


class PreviewView(TakesFile, LabView):
    """A file as it would be read: guesses, first rows, bad rows. Nothing is saved."""

    required_action = Action.IMPORT_RECORDS
    parser_classes = (MultiPartParser,)
    serializer_class = ImportPreviewSerializer
    input_class = ImportPreviewInput

    @extend_schema(responses={200: ImportPreviewSerializer})
    def post(self, request: Any) -> Response:
        data = self.read(ImportPreviewInput)
        preview = preview_import(
            actor=request.user,
            kind=data["kind"],
            choices=data.get("choices"),
            **self.file_facts(data),
        )
        return Response(preview_facts(preview))


class ImportsView(TakesFile, ListCreateView):
    """Imported files, newest first. POST saves all rows of a previewed file, or none."""

    required_action = {"GET": Action.VIEW_LAB, "POST": Action.IMPORT_RECORDS}
    parser_classes = (MultiPartParser,)
    serializer_class = ImportSerializer
    input_class = ImportCommitInput
    filterset_fields = ("kind", "sha256")

    def get_queryset(self) -> Any:
        return imports()

    def create(self, actor: Any, data: dict[str, Any]) -> Any:
        return commit_import(
            actor=actor,
            kind=data["kind"],
            sha256=data["sha256"],
            choices=data["choices"],
            **self.file_facts(data),
        )


class ImportView(RecordView):
    """One imported file, with the record that each of its rows became."""

    required_action = Action.VIEW_LAB
    serializer_class = ImportDetailSerializer

    def get_queryset(self) -> Any:
        return imports()
