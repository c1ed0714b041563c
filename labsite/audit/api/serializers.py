"""The history as JSON."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from labsite.api.fields import InstantField, LineField, StrictSerializer
from labsite.audit.actions import declared
from labsite.audit.models import AuditDigest
from labsite.audit.selectors import Told, Wanted
from labsite.audit.wording import sentence


class EntrySerializer(serializers.Serializer):
    """One entry as the reader may see it; `masked`: its values and its reason are left out."""

    id = serializers.IntegerField(source="entry.pk")
    object_type = serializers.CharField(source="entry.object_type")
    object_id = serializers.UUIDField(source="entry.object_id")
    object_label = serializers.CharField(source="entry.object_label")
    sequence = serializers.IntegerField(source="entry.sequence")
    action = serializers.CharField(source="entry.action")
    sentence = serializers.SerializerMethodField()
    actor = serializers.UUIDField(source="entry.actor_id")
    actor_name = serializers.CharField(source="entry.actor_name")
    actor_role = serializers.CharField(source="facts.actor_role")
    at = serializers.DateTimeField(source="entry.at")
    device_at = serializers.CharField(source="facts.device_at", allow_null=True)
    clock = serializers.CharField(source="facts.clock")
    reason = serializers.CharField(source="facts.reason")
    old = serializers.DictField(source="facts.old")
    new = serializers.DictField(source="facts.new")
    noted = serializers.DictField(source="facts.noted")
    masked = serializers.BooleanField()
    hash = serializers.CharField(source="entry.hash")

    def get_sentence(self, told: Told) -> str:
        return sentence(told.entry.action)


class WantedSerializer(StrictSerializer):
    """The filters; a misspelt one is refused, as it would widen what is shown."""

    object_type = LineField(required=False, max_length=60)
    object_id = serializers.UUIDField(required=False)
    actor = serializers.UUIDField(required=False)
    action = serializers.ChoiceField(required=False, choices=[])
    to = InstantField(required=False)
    cursor = serializers.CharField(required=False, max_length=500)
    page_size = serializers.CharField(required=False, max_length=20)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["from"] = InstantField(required=False)  # a word of the language
        self.fields["action"].choices = list(declared().items())

    def wanted(self) -> Wanted:
        data = self.validated_data
        return Wanted(
            object_type=data.get("object_type"),
            object_id=data.get("object_id"),
            actor=data.get("actor"),
            action=data.get("action"),
            from_at=data.get("from"),
            to_at=data.get("to"),
        )

    def validate(self, data: dict[str, Any]) -> dict[str, Any]:
        if data.get("from") and data.get("to") and data["from"] > data["to"]:
            raise serializers.ValidationError({"to": _("This is before “from”.")})
        return data


class FindingSerializer(serializers.Serializer):
    code = serializers.CharField()
    where = serializers.CharField()
    detail = serializers.CharField()


class VerificationSerializer(serializers.Serializer):
    """What a verification found; `by` is null for the worker's own."""

    holds = serializers.BooleanField()
    at = serializers.DateTimeField()
    by = serializers.CharField(allow_null=True)
    entries = serializers.IntegerField()
    objects = serializers.IntegerField()
    rows = serializers.IntegerField()
    digests = serializers.IntegerField()
    findings = FindingSerializer(many=True)
    findings_in_all = serializers.IntegerField()


class DigestSerializer(serializers.ModelSerializer):
    class Meta:
        model = AuditDigest
        fields = ("number", "at", "previous_hash", "hash", "body")
