"""All settings, read from the environment; docs/operations.md lists the variables.

Without any variable the app runs embedded: SQLite and the broker's folders lie in var/.
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import dj_database_url
from django.utils.translation import gettext_lazy as _

from labsite.environment import (
    read_flag,
    read_list,
    read_number,
    read_text,
    secret_kept_in,
)

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(read_text("RESTHEIGHT_DATA_DIR", str(BASE_DIR / "var")))
DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)

DEBUG = read_flag("RESTHEIGHT_DEBUG")
# The demo lab: its sign-in page lets anybody in as any demo person.
RESTHEIGHT_DEMO = read_flag("RESTHEIGHT_DEMO")
# Served over HTTPS: secure cookies and strict transport.
RESTHEIGHT_HTTPS = read_flag("RESTHEIGHT_HTTPS")
SECRET_KEY = read_text("RESTHEIGHT_SECRET_KEY") or secret_kept_in(DATA_DIR / "secret.key")
ALLOWED_HOSTS = read_list("RESTHEIGHT_ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]")
CSRF_TRUSTED_ORIGINS = read_list("RESTHEIGHT_TRUSTED_ORIGINS")

INSTALLED_APPS = [
    "labsite.accounts",
    "labsite.audit",
    "labsite.api",
    "labsite.web",
    "labsite.jobs",
    "columns",
    "samples",
    "reports",
    "labsite.operations",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
    "axes",
]

MIDDLEWARE = [
    "labsite.api.middleware.RequestContextMiddleware",
    "labsite.web.middleware.SecurityHeadersMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "labsite.accounts.middleware.SignInRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "labsite.api.middleware.LabErrorMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "labsite.urls"
WSGI_APPLICATION = "labsite.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "labsite" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "labsite.web.context_processors.frame",
            ],
        },
    }
]

DATABASES = {
    "default": dj_database_url.parse(
        read_text("DATABASE_URL") or f"sqlite:///{DATA_DIR / 'restheight.sqlite3'}"
    )
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # IMMEDIATE: a reader that turns writer inside a transaction would fail at once otherwise.
    DATABASES["default"]["OPTIONS"] = {
        "timeout": 20,
        "transaction_mode": "IMMEDIATE",
        "init_command": (
            "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA journal_size_limit=27103364;"
        ),
    }
else:
    DATABASES["default"]["CONN_MAX_AGE"] = 60
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.db.DatabaseCache",
        "LOCATION": "restheight_cache",
    }
}

AUTH_USER_MODEL = "accounts.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "labsite.accounts.backends.LabBackend",
]
PASSWORD_HASHERS = ["labsite.accounts.hashers.LeanArgon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("username", "full_name", "email")},
    },
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "accounts:sign-in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "accounts:sign-in"
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_CALLABLE = "labsite.accounts.lockout.refuse"
AXES_VERBOSE = False
AXES_DISABLE_ACCESS_LOG = True  # sign-ins are entries of the history
AXES_SENSITIVE_PARAMETERS = ["old", "new", "again"]  # beside the password itself
AXES_ENABLE_ADMIN = False

SESSION_COOKIE_AGE = 12 * 3600  # a long shift
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = RESTHEIGHT_HTTPS
SECURE_HSTS_SECONDS = 31_536_000 if RESTHEIGHT_HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = RESTHEIGHT_HTTPS
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if RESTHEIGHT_HTTPS and read_flag("RESTHEIGHT_BEHIND_PROXY"):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

LANGUAGE_CODE = read_text("RESTHEIGHT_LANGUAGE", "en")
LANGUAGES = [("en", _("English"))]
LOCALE_PATHS = [BASE_DIR / "labsite" / "locale"]
USE_I18N = True
USE_TZ = True
# The lab's own time zone: for what people read and type; stored instants are UTC.
TIME_ZONE = read_text("RESTHEIGHT_TIME_ZONE", "Europe/London")

STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "labsite" / "static"]
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "labsite.web.finders.PackageFilesFinder",
]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "labsite.web.storage.ModuleManifestStorage"},
}
MEDIA_ROOT = DATA_DIR / "documents"
MEDIA_URL = ""  # documents are handed out by views that ask for permission
FILE_UPLOAD_PERMISSIONS = 0o640
DATA_UPLOAD_MAX_MEMORY_SIZE = 10 * 1024 * 1024

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "labsite.api.authentication.TokenAuthentication",
        "labsite.api.authentication.LabSessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["labsite.accounts.permissions.HasAction"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["labsite.api.parsers.StrictJSONParser"],
    "DEFAULT_PAGINATION_CLASS": "labsite.api.paging.LabCursorPagination",
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    "DEFAULT_METADATA_CLASS": "labsite.api.metadata.PlainMetadata",
    "DEFAULT_SCHEMA_CLASS": "labsite.api.schema.LabSchema",
    "EXCEPTION_HANDLER": "labsite.api.errors.handle",
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
    "COERCE_DECIMAL_TO_STRING": True,
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
    "DATETIME_FORMAT": "iso-8601",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Restheight API",
    "DESCRIPTION": "Density by gradient column: floats, calibrations, specimens, results.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "SERVE_PERMISSIONS": ["labsite.accounts.permissions.HasAction"],
    "ENUM_NAME_OVERRIDES": {
        "ScaleOriginEnum": "columns.models.Column.Origin",
        "TrayStateEnum": "samples.api.bench_serializers.TRAY_STATES",
        "FillStateEnum": "columns.models.Fill.State",
        "TemperatureSourceEnum": "columns.models.BathTemperature.Source",
        "ShapeEnum": "samples.models.Specimen.Shape",
        "ReadingOutcomeEnum": "samples.models.Reading.Outcome",
        "ReadingSourceEnum": "samples.models.Reading.Source",
        "DensityOutcomeEnum": "samples.models.DensityResult.Outcome",
    },
}

BROKER_URL = read_text("BROKER_URL") or "safefs://localhost"
BROKER_DIR = DATA_DIR / "broker"
WORKER_SILENT_AFTER_SECONDS = read_number("RESTHEIGHT_WORKER_SILENT_AFTER", 180, low=30, high=86400)

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "INFO"},
}
