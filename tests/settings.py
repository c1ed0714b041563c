"""Settings of the test suite: the product's own, with fast hashing and plain static files."""

from __future__ import annotations

import os
import tempfile

os.environ.setdefault("RESTHEIGHT_DATA_DIR", tempfile.mkdtemp(prefix="restheight-tests-"))
os.environ.setdefault("RESTHEIGHT_SECRET_KEY", "only-for-the-tests-" + "x" * 50)

from labsite.settings import *  # noqa: F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.InMemoryStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
ALLOWED_HOSTS = ["*"]
