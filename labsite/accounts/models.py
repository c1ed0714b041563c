"""People and their API tokens."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.validators import RegexValidator
from django.db import models
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext_lazy as _

from labsite.accounts.roles import Role
from labsite.records import LabRecord

SYSTEM_USERNAME = "restheight"


class UserManager(BaseUserManager):
    def get_by_natural_key(self, username: str) -> User:
        return self.get(username__iexact=username)


class User(LabRecord, AbstractBaseUser):
    """A person, or the one system user in whose name tasks act (it cannot sign in)."""

    username = models.CharField(
        _("sign-in name"),
        max_length=40,
        unique=True,
        validators=[
            RegexValidator(
                r"^[a-z0-9][a-z0-9._-]*\Z",
                _("Use small letters a to z, digits, dot, dash or underscore."),
            )
        ],
    )
    full_name = models.CharField(_("name"), max_length=120)
    role = models.CharField(_("role"), max_length=20, choices=Role.choices)
    email = models.EmailField(_("e-mail"), blank=True)
    is_active = models.BooleanField(_("may sign in"), default=True)
    is_system = models.BooleanField(_("the app itself"), default=False, editable=False)
    must_change_password = models.BooleanField(
        _("must choose a password of their own"), default=False
    )
    ends_on = models.DateField(
        _("account ends on"), null=True, blank=True, help_text=_("Last day on which it works.")
    )
    # part of each session's fingerprint: raising it ends the sessions that are open
    sessions_ended = models.PositiveIntegerField(
        _("times all sign-ins were ended"), default=0, editable=False
    )

    last_login = None  # sign-ins are entries of the history, not an overwritten field

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS = ["full_name", "role"]
    audit_masked = ("password",)

    objects = UserManager()

    class Meta:
        verbose_name = _("account")
        ordering = ["full_name"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(role__in=Role.values), name="user_role_is_known"
            )
        ]

    def __str__(self) -> str:
        return self.full_name

    def _get_session_auth_hash(self, secret: str | None = None) -> str:
        """What Django compares on each request: password and count of ended sessions."""
        content = f"{self.password}:{self.sessions_ended}"
        return salted_hmac(
            "restheight.session", content, secret=secret, algorithm="sha256"
        ).hexdigest()

    @property
    def short_name(self) -> str:
        return self.full_name.split()[0] if self.full_name else self.username


class ApiToken(LabRecord):
    """A person's key for the API: only its hash is kept, the key itself is shown once."""

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        related_name="tokens",
        verbose_name=_("owner"),
    )
    name = models.CharField(_("what it is for"), max_length=80)
    prefix = models.CharField(_("first characters"), max_length=8, unique=True)
    key_hash = models.CharField(_("hash of the key"), max_length=64)
    expires_at = models.DateTimeField(_("ends"), null=True, blank=True)
    revoked_at = models.DateTimeField(_("revoked"), null=True, blank=True)

    audit_masked = ("key_hash",)

    class Meta:
        verbose_name = _("API token")
        ordering = ["-created_at"]

    def __str__(self) -> str:
        return f"{self.name} ({self.prefix}…)"
