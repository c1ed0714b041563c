"""Parts that answers of several apps share."""

from __future__ import annotations

from rest_framework import serializers

from labsite.accounts.models import User


class PersonNameSerializer(serializers.ModelSerializer):
    """A person by name, for "read by" and the like."""

    name = serializers.CharField(source="full_name", read_only=True)

    class Meta:
        model = User
        fields = ["id", "name"]


class FigureFindingSerializer(serializers.Serializer):
    """Something a person should know about a figure."""

    code = serializers.CharField()
    message = serializers.CharField()
    float = serializers.CharField(allow_null=True)


class RefusalReasonSerializer(serializers.Serializer):
    """Why something is not possible now."""

    code = serializers.CharField()
    message = serializers.CharField()
