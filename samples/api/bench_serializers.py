"""The shape of the bench's answer: what the drawn columns are drawn from."""

from __future__ import annotations

from rest_framework import serializers as s

from columns.models import Column
from samples.api.serializers import NamedSerializer
from samples.models import Specimen

# Named, so that the API's description can name it too.
TRAY_STATES = [("falling", "falling"), ("ready", "ready")]


class _PlainNamed(s.Serializer):
    id = s.UUIDField()
    name = s.CharField()


class ScaleSerializer(s.Serializer):
    origin = s.ChoiceField(choices=Column.Origin.choices)
    length_mm = s.CharField()
    division_mm = s.CharField()
    readable_low_mm = s.CharField()
    readable_high_mm = s.CharField()
    bore_mm = s.CharField()


class DrawnFillSerializer(s.Serializer):
    id = s.UUIDField()
    state = s.CharField()
    poured_at = s.DateTimeField(allow_null=True)
    opened_at = s.DateTimeField(allow_null=True)
    age_days = s.IntegerField(allow_null=True)
    pair = s.CharField()


class ProfilePointSerializer(s.Serializer):
    above_bottom_mm = s.FloatField()
    density_g_cm3 = s.FloatField()


class LargestMisfitSerializer(s.Serializer):
    float = s.CharField()
    mm = s.FloatField()
    g_cm3 = s.FloatField()


class DrawnCalibrationSerializer(s.Serializer):
    id = s.UUIDField()
    float_set = s.UUIDField()
    read_at = s.DateTimeField()
    read_by = s.CharField()
    valid_until_at = s.DateTimeField()
    correlation = s.CharField()
    sensitivity_g_cm3_per_mm = s.CharField()
    largest_misfit = LargestMisfitSerializer(allow_null=True)
    profile = ProfilePointSerializer(many=True)


class DrawnFloatSerializer(s.Serializer):
    id = s.UUIDField()
    label = s.CharField()
    density_g_cm3 = s.CharField()
    height_mm = s.CharField()
    above_bottom_mm = s.FloatField()
    residual_mm = s.FloatField(allow_null=True)


class OccupantSerializer(s.Serializer):
    specimen = s.UUIDField()
    lot = s.CharField()
    lot_tail = s.CharField()
    shape = s.ChoiceField(choices=Specimen.Shape.choices)
    age = s.ChoiceField(choices=["today", "yesterday", "older"])
    outcome = s.CharField(allow_null=True)
    height_mm = s.CharField(allow_null=True)
    above_bottom_mm = s.FloatField(allow_null=True)
    density_g_cm3 = s.CharField(allow_null=True)
    masked = s.BooleanField()


class TrayItemSerializer(s.Serializer):
    specimen = s.UUIDField()
    lot = s.CharField()
    lot_tail = s.CharField()
    shape = s.ChoiceField(choices=Specimen.Shape.choices)
    state = s.ChoiceField(choices=TRAY_STATES)
    dropped_at = s.DateTimeField()
    ready_at = s.DateTimeField()
    second_look = s.BooleanField()
    mine = s.BooleanField()


class QueuedSerializer(TrayItemSerializer):
    column = _PlainNamed()


class DrawnFlagSerializer(s.Serializer):
    level = s.ChoiceField(choices=["stop", "look", "know"])
    code = s.CharField()
    text = s.CharField()


class TemperatureNowSerializer(s.Serializer):
    temperature_c = s.CharField()
    at = s.DateTimeField()
    band = s.ChoiceField(choices=["in", "out", "unknown"])
    since_at = s.DateTimeField()


class DrawnBathSerializer(_PlainNamed):
    setpoint_c = s.CharField()
    tolerance_c = s.CharField()
    temperature = TemperatureNowSerializer(allow_null=True)


class OverviewSerializer(s.Serializer):
    """One column as it is drawn; `above_bottom_mm` grows upward whatever the scale's origin."""

    id = s.UUIDField()
    name = s.CharField()
    bath = _PlainNamed()
    scale = ScaleSerializer()
    state = s.CharField()
    state_word = s.CharField()
    state_note = s.CharField(allow_blank=True)
    fill = DrawnFillSerializer(allow_null=True)
    calibration = DrawnCalibrationSerializer(allow_null=True)
    floats = DrawnFloatSerializer(many=True)
    occupants = OccupantSerializer(many=True)
    tray = TrayItemSerializer(many=True)
    flags = DrawnFlagSerializer(many=True)


class ColumnOverviewSerializer(OverviewSerializer):
    server_time = s.DateTimeField()
    valid_until_at = s.DateTimeField()
    bath = DrawnBathSerializer()


class BathWithColumnsSerializer(DrawnBathSerializer):
    columns = OverviewSerializer(many=True)


class BenchSerializer(s.Serializer):
    """All that the bench shows, and until when it holds without anybody doing anything."""

    server_time = s.DateTimeField()
    valid_until_at = s.DateTimeField()
    headline = s.CharField()
    baths = BathWithColumnsSerializer(many=True)
    ready_count = s.IntegerField()
    falling_count = s.IntegerField()
    next = QueuedSerializer(allow_null=True)


class ReadQueueSerializer(s.Serializer):
    """What is to be read: ready before falling, one's own first, the longest waiting first."""

    server_time = s.DateTimeField()
    valid_until_at = s.DateTimeField(allow_null=True)
    results = QueuedSerializer(many=True)


class ShapeUseSerializer(s.Serializer):
    """How often a shape lies near the expected place, and in the whole column."""

    shape = s.ChoiceField(choices=Specimen.Shape.choices)
    near = s.IntegerField()
    in_column = s.IntegerField()


class ColumnAdviceSerializer(s.Serializer):
    """A column as a place for a lot; `shapes` begins with the one told apart most easily."""

    column = NamedSerializer()
    fill = s.UUIDField(source="fill.pk")
    is_open = s.BooleanField()
    state = s.CharField(source="standing.state")
    state_word = s.CharField(source="standing.word")
    state_note = s.CharField(source="standing.note")
    covers = s.BooleanField(allow_null=True)
    expected_height_mm = s.FloatField(allow_null=True)
    masked = s.BooleanField()
    shapes = ShapeUseSerializer(many=True)


class DropAdviceSerializer(s.Serializer):
    """The best column first: open, holding the grade's density, least crowded there."""

    results = ColumnAdviceSerializer(many=True)
