"""Argon2id with a memory cost that twenty people can afford at the same time."""

from __future__ import annotations

from django.contrib.auth.hashers import Argon2PasswordHasher


class LeanArgon2PasswordHasher(Argon2PasswordHasher):
    """19 MiB, two passes, one lane: Django's default takes 100 MiB for each sign-in."""

    memory_cost = 19 * 1024
    time_cost = 2
    parallelism = 1
