"""People, tokens and the session as JSON."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from labsite.accounts.models import ApiToken, User
from labsite.accounts.roles import Role
from labsite.api.fields import InstantField, LineField, StrictSerializer


class PersonSerializer(serializers.ModelSerializer):
    last_signed_in_at = serializers.SerializerMethodField()

    class Meta:
        model = User
        fields = (
            "id",
            "version",
            "created_at",
            "username",
            "full_name",
            "role",
            "email",
            "is_active",
            "must_change_password",
            "ends_on",
            "last_signed_in_at",
        )

    def get_last_signed_in_at(self, person: User) -> Any:
        at = self.context.get("signed_in", {}).get(person.pk)
        return serializers.DateTimeField().to_representation(at) if at else None


class NameSerializer(serializers.ModelSerializer):
    class Meta:
        model = User
        fields = ("id", "full_name", "role")


class PersonChangeSerializer(StrictSerializer):
    full_name = LineField(max_length=120)
    role = serializers.ChoiceField(choices=Role.choices)
    email = serializers.EmailField(required=False, allow_blank=True)
    ends_on = serializers.DateField(required=False, allow_null=True)


class PersonAddSerializer(PersonChangeSerializer):
    username = LineField(max_length=40)


class ReasonSerializer(StrictSerializer):
    reason = LineField(max_length=500)


class NothingSerializer(StrictSerializer):
    """An act that takes no values."""


class TokenSerializer(serializers.ModelSerializer):
    class Meta:
        model = ApiToken
        fields = (
            "id",
            "version",
            "owner",
            "name",
            "prefix",
            "created_at",
            "expires_at",
            "revoked_at",
        )


class TokenAddSerializer(StrictSerializer):
    name = LineField(max_length=80)
    expires_at = InstantField(required=False, allow_null=True)


class SessionSerializer(serializers.Serializer):
    """Who calls, and what they may do."""

    person = NameSerializer()
    username = serializers.CharField()
    actions = serializers.ListField(child=serializers.CharField())
    demo = serializers.BooleanField()
    server_time = serializers.DateTimeField()


class PersonWithPasswordSerializer(PersonSerializer):
    """The one-time password is in the first answer only, never in a repeated one."""

    password = serializers.CharField(required=False)

    class Meta(PersonSerializer.Meta):
        fields = (*PersonSerializer.Meta.fields, "password")


class TokenWithKeySerializer(TokenSerializer):
    """The key is in the first answer only, never in a repeated one."""

    key = serializers.CharField(required=False)

    class Meta(TokenSerializer.Meta):
        fields = (*TokenSerializer.Meta.fields, "key")
