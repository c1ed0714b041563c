"""Typed readers of environment variables: an odd value stops the start, with its name."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

_TRUE, _FALSE = {"1", "true", "yes", "on"}, {"0", "false", "no", "off", ""}


def read_text(name: str, default: str = "") -> str:
    """The variable `name`, or the content of the file that `name`_FILE points to."""
    path = os.environ.get(f"{name}_FILE")
    if path:
        return Path(path).read_text(encoding="utf-8").strip()
    return os.environ.get(name, default)


def read_flag(name: str, default: bool = False) -> bool:
    value = os.environ.get(name, str(default)).strip().lower()
    if value in _TRUE | _FALSE:
        return value in _TRUE
    raise ImproperlyConfigured(f"{name} is {value!r}; use 1 or 0")


def read_number(name: str, default: int, *, low: int, high: int) -> int:
    text = os.environ.get(name, str(default))
    if text.isdigit() and low <= int(text) <= high:
        return int(text)
    raise ImproperlyConfigured(f"{name} is {text!r}; use a whole number from {low} to {high}")


def read_list(name: str, default: str = "") -> list[str]:
    return [item.strip() for item in os.environ.get(name, default).split(",") if item.strip()]


def secret_kept_in(path: Path) -> str:
    """A secret made on first use and kept in `path`, readable by its owner only."""
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        with open(path, "x", opener=lambda p, flags: os.open(p, flags, 0o600)) as file:
            file.write(secrets.token_urlsafe(64))
    except FileExistsError:
        pass
    return path.read_text(encoding="utf-8")
