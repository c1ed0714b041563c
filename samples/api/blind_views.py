"""What the Read page may know."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers as s
from rest_framework.response import Response

from labsite.accounts.roles import Action
from labsite.api.etags import fresh_or_unchanged
from labsite.api.serializers import RefusalReasonSerializer
from labsite.api.views import LabView
from labsite.clock import SYSTEM_CLOCK
from samples.api.bench_serializers import ScaleSerializer
from samples.api.serializers import LotNameSerializer
from samples.models import Specimen
from samples.selectors.blind_views import blind_view


class PieceToReadSerializer(s.Serializer):
    id = s.UUIDField()
    lot = LotNameSerializer()
    shape = s.ChoiceField(choices=Specimen.Shape.choices)
    dropped_at = s.DateTimeField()
    dropped_by = s.CharField()
    ready_at = s.DateTimeField()
    is_ready = s.BooleanField()
    is_mine = s.BooleanField()
    is_unread = s.BooleanField()
    is_removed = s.BooleanField()
    second_look = s.BooleanField()
    seen_readings = s.IntegerField()


class ShadeSerializer(s.Serializer):
    """The liquid's shade as a share between its lightest and its heaviest end."""

    above_bottom_mm = s.FloatField()
    shade = s.FloatField()


class NamedFloatSerializer(s.Serializer):
    id = s.UUIDField()
    label = s.CharField()
    height_mm = s.CharField()
    above_bottom_mm = s.FloatField()


class OutlineSerializer(s.Serializer):
    shape = s.ChoiceField(choices=Specimen.Shape.choices)
    age = s.ChoiceField(choices=["today", "yesterday", "older"])
    height_mm = s.CharField()
    above_bottom_mm = s.FloatField()


class BlindColumnSerializer(s.Serializer):
    id = s.UUIDField()
    name = s.CharField()
    scale = ScaleSerializer()
    shades = ShadeSerializer(many=True)
    floats = NamedFloatSerializer(many=True)
    occupants = OutlineSerializer(many=True)


class LotReadSerializer(s.Serializer):
    read = s.IntegerField()
    of = s.IntegerField()


class BlindViewSerializer(s.Serializer):
    """A piece and its column as a person sees them who is about to read it: no density."""

    server_time = s.DateTimeField()
    specimen = PieceToReadSerializer()
    column = BlindColumnSerializer()
    refusal = RefusalReasonSerializer(allow_null=True)
    lot_read = LotReadSerializer()


class BlindViewView(LabView):
    """What may be seen before reading a specimen: its column without any density."""

    queryset = Specimen.objects.all()
    serializer_class = BlindViewSerializer
    required_action = Action.MEASURE

    def get(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        seen = blind_view(self.get_object(), request.user, SYSTEM_CLOCK.now())
        return fresh_or_unchanged(request, seen, volatile=("server_time",))
