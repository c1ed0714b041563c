"""What the imports' endpoints take and give."""

from __future__ import annotations

import json
from typing import Any

from django.utils.translation import gettext_lazy as _
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from labsite.api.fields import StrictSerializer
from reports.imports.representations import batch_facts

MOST_CHOICE_CHARACTERS = 1000


@extend_schema_field({"type": "string", "description": "a JSON object of texts"})
class ChoicesField(serializers.CharField):
    """A JSON object of texts, as the preview gave it in `choices`."""

    default_error_messages = {
        "no_object": _('Send the choices as JSON, for example {{"decimal_mark": ","}}.')
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            max_length=MOST_CHOICE_CHARACTERS, trim_whitespace=False, allow_blank=False, **kwargs
        )

    def to_internal_value(self, data: Any) -> dict[str, str]:
        try:
            found = json.loads(super().to_internal_value(data))
        except (ValueError, RecursionError):
            found = None
        if not isinstance(found, dict) or not all(isinstance(v, str) for v in found.values()):
            self.fail("no_object")
        return found


class ImportPreviewInput(StrictSerializer):
    kind = serializers.CharField(max_length=40, help_text="floats, float-sets or specimen-heights")
    file = serializers.FileField(allow_empty_file=True, help_text="CSV or XLSX, up to 5 MB")
    choices = ChoicesField(required=False, help_text="JSON: what to use instead of a guess")


class ImportCommitInput(StrictSerializer):
    kind = serializers.CharField(max_length=40)
    file = serializers.FileField(allow_empty_file=True, help_text="the file that was previewed")
    sha256 = serializers.RegexField(r"^[0-9a-fA-F]{64}\Z", help_text="file.sha256 of the preview")
    choices = ChoicesField(help_text="JSON: choices of the preview")


class ImporterSerializer(serializers.Serializer):
    id = serializers.UUIDField()
    name = serializers.CharField()


class ImportSerializer(serializers.Serializer):
    """One imported file."""

    id = serializers.UUIDField()
    kind = serializers.CharField()
    kind_label = serializers.CharField()
    file_name = serializers.CharField()
    sha256 = serializers.CharField()
    size_bytes = serializers.IntegerField()
    row_count = serializers.IntegerField()
    imported_at = serializers.DateTimeField()
    imported_by = ImporterSerializer()
    choices = serializers.DictField(child=serializers.CharField())
    counts = serializers.DictField(child=serializers.IntegerField())
    counts_text = serializers.CharField()

    def to_representation(self, batch: Any) -> dict[str, Any]:
        return batch_facts(batch)


class ImportedRecordSerializer(serializers.Serializer):
    row = serializers.IntegerField()
    type = serializers.CharField()
    id = serializers.UUIDField()


class ImportDetailSerializer(ImportSerializer):
    """The file with the record that each row became."""

    records = ImportedRecordSerializer(many=True)

    def to_representation(self, batch: Any) -> dict[str, Any]:
        return {**batch_facts(batch), "records": batch.record_list}


class ImportFileSerializer(serializers.Serializer):
    name = serializers.CharField()
    format = serializers.ChoiceField(["csv", "xlsx"])
    size_bytes = serializers.IntegerField()
    sha256 = serializers.CharField()


class ImportOptionSerializer(serializers.Serializer):
    value = serializers.CharField()
    label = serializers.CharField()


class ImportGuessSerializer(serializers.Serializer):
    name = serializers.CharField()
    value = serializers.CharField(allow_blank=True)
    text = serializers.CharField()
    why = serializers.CharField(allow_blank=True)
    is_question = serializers.BooleanField()
    options = ImportOptionSerializer(many=True)


class ImportColumnSerializer(serializers.Serializer):
    header = serializers.CharField()
    field = serializers.CharField()
    label = serializers.CharField()
    unit = serializers.CharField(allow_blank=True)


class ImportRowSerializer(serializers.Serializer):
    row = serializers.IntegerField()
    values = serializers.ListField(child=serializers.CharField(allow_null=True, allow_blank=True))


class ImportRemarkSerializer(serializers.Serializer):
    row = serializers.IntegerField()
    column = serializers.CharField(allow_blank=True)
    value = serializers.CharField(allow_blank=True)
    text = serializers.CharField()


class ImportBadSerializer(serializers.Serializer):
    row = serializers.IntegerField()
    column = serializers.CharField(allow_blank=True)
    value = serializers.CharField(allow_blank=True)
    expected = serializers.CharField()


class ImportPreviewSerializer(serializers.Serializer):
    """A file as understood; nothing of it is saved."""

    kind = serializers.CharField()
    file = ImportFileSerializer()
    guesses = ImportGuessSerializer(many=True)
    choices = serializers.DictField(child=serializers.CharField())
    columns = ImportColumnSerializer(many=True)
    row_count = serializers.IntegerField()
    rows = ImportRowSerializer(many=True)
    would_make = serializers.DictField(child=serializers.IntegerField())
    would_make_text = serializers.CharField(allow_blank=True)
    remarks = ImportRemarkSerializer(many=True)
    bad = ImportBadSerializer(many=True)
    bad_csv = serializers.CharField(allow_blank=True)
    earlier = ImportSerializer(allow_null=True)
    ready = serializers.BooleanField()
