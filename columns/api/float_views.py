"""Floats, quarantines, certificates with their documents, placements."""

from __future__ import annotations

from typing import Any

from django.http import FileResponse
from django.utils.translation import gettext as _
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.parsers import MultiPartParser

from columns.api import filters, inputs, serializers
from columns.api.bath_views import EQUIPMENT, WORK
from columns.models import CalibrationFloat, Certificate, FloatPlacement, FloatQuarantine
from columns.services import certificates, documents, floats
from labsite.accounts.roles import Action
from labsite.api.views import ActionView, ChangeableRecordView, ListCreateView, ListView, RecordView
from labsite.errors import NotFound, TooLarge

FLOATS = CalibrationFloat.objects.prefetch_related("certificates", "placements", "quarantines")
MULTIPART_MARGIN_BYTES = 64 * 1024


class FloatsView(ListCreateView):
    queryset = FLOATS
    serializer_class = serializers.CalibrationFloatSerializer
    input_class = inputs.CalibrationFloatInput
    filterset_class = filters.CalibrationFloatFilter
    required_action = EQUIPMENT

    def create(self, actor: Any, data: dict[str, Any]) -> CalibrationFloat:
        return floats.register_float(actor=actor, **data)


class FloatView(ChangeableRecordView):
    queryset = FLOATS
    serializer_class = serializers.CalibrationFloatSerializer
    change_class = inputs.CalibrationFloatChange
    required_action = EQUIPMENT

    def change(self, actor: Any, record: CalibrationFloat, data: dict[str, Any]) -> Any:
        return floats.change_float(actor=actor, calibration_float=record, **data)


class FloatRetireView(ActionView):
    """Take a float out of use."""

    queryset = CalibrationFloat.objects.all()
    serializer_class = serializers.CalibrationFloatSerializer
    input_class = inputs.ReasonInput
    required_action = Action.MANAGE_EQUIPMENT

    def act(self, actor: Any, record: CalibrationFloat, data: dict[str, Any]) -> Any:
        return floats.retire_float(actor=actor, calibration_float=record, **data)


class FloatQuarantineView(ActionView):
    """Do not trust a float from a stated time on."""

    queryset = CalibrationFloat.objects.all()
    serializer_class = serializers.QuarantineSerializer
    input_class = inputs.QuarantineInput
    required_action = Action.PLACE_HOLD
    success_status = 201

    def act(self, actor: Any, record: CalibrationFloat, data: dict[str, Any]) -> Any:
        return floats.quarantine_float(actor=actor, calibration_float=record, **data)


class QuarantinesView(ListView):
    queryset = FloatQuarantine.objects.select_related("placed_by", "lifted_by")
    serializer_class = serializers.QuarantineSerializer
    filterset_class = filters.QuarantineFilter
    required_action = Action.VIEW_LAB


class QuarantineLiftView(ActionView):
    """Trust the float again from now on."""

    queryset = FloatQuarantine.objects.all()
    serializer_class = serializers.QuarantineSerializer
    input_class = inputs.ReasonInput
    required_action = Action.LIFT_HOLD

    def act(self, actor: Any, record: FloatQuarantine, data: dict[str, Any]) -> Any:
        return floats.lift_quarantine(actor=actor, quarantine=record, **data)


class CertificatesView(ListCreateView):
    queryset = Certificate.objects.all()
    serializer_class = serializers.CertificateRowSerializer
    input_class = inputs.CertificateInput
    filterset_class = filters.CertificateFilter
    required_action = EQUIPMENT

    def create(self, actor: Any, data: dict[str, Any]) -> Certificate:
        return certificates.add_certificate(actor=actor, **data)


class CertificateView(ChangeableRecordView):
    """PATCH corrects a typing error; calibrations that rest on it are computed again."""

    queryset = Certificate.objects.all()
    serializer_class = serializers.CertificateSerializer
    change_class = inputs.CertificateChange
    required_action = EQUIPMENT

    def change(self, actor: Any, record: Certificate, data: dict[str, Any]) -> Certificate:
        return certificates.change_certificate(actor=actor, certificate=record, **data)


class CertificateDocumentView(ActionView):
    """The document: GET downloads it, POST attaches it (PDF, PNG or JPEG, up to 10 MB)."""

    queryset = Certificate.objects.all()
    serializer_class = serializers.CertificateSerializer
    input_class = inputs.DocumentInput
    parser_classes = (MultiPartParser,)
    required_action = EQUIPMENT
    success_status = 201

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        sent = int(request.META.get("CONTENT_LENGTH") or 0)
        if sent > documents.LARGEST_BYTES + MULTIPART_MARGIN_BYTES:
            raise TooLarge("document_too_large", _("This file is too large."))

    def act(self, actor: Any, record: Certificate, data: dict[str, Any]) -> Certificate:
        return certificates.attach_document(
            actor=actor, certificate=record, upload=data["document"]
        )

    @extend_schema(responses={200: OpenApiResponse(OpenApiTypes.BINARY)})
    def get(self, request: Any, *args: Any, **kwargs: Any) -> FileResponse:
        certificate = self.get_object()
        if not certificate.document:
            raise NotFound("no_document", _("No document is attached to this certificate."))
        kind = certificate.document.name.rsplit(".", 1)[-1]
        return FileResponse(
            certificate.document.open("rb"),
            as_attachment=True,
            filename=f"certificate-{certificate.pk}.{kind}",
            content_type=documents.CONTENT_TYPES[kind],
        )


class PlacementsView(ListCreateView):
    """Which floats are or were in which fill. POST places one."""

    queryset = FloatPlacement.objects.select_related("calibration_float", "placed_by", "removed_by")
    serializer_class = serializers.PlacementSerializer
    input_class = inputs.PlacementInput
    filterset_class = filters.PlacementFilter
    required_action = WORK

    def create(self, actor: Any, data: dict[str, Any]) -> FloatPlacement:
        return floats.place_float(actor=actor, **data)


class PlacementView(RecordView):
    queryset = PlacementsView.queryset
    serializer_class = serializers.PlacementSerializer
    required_action = Action.VIEW_LAB


class PlacementRemoveView(ActionView):
    """Take a float out of its fill."""

    queryset = FloatPlacement.objects.all()
    serializer_class = serializers.PlacementSerializer
    input_class = inputs.RemovalInput
    required_action = Action.RECORD_COLUMN_WORK

    def act(self, actor: Any, record: FloatPlacement, data: dict[str, Any]) -> FloatPlacement:
        return floats.remove_float(actor=actor, placement=record, **data)
