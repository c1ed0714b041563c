"""manage.py add_administrator: the first way in. Outside the demo no account exists before it.

manage.py add_administrator yuki "Yuki Arai"              asks for a password twice
manage.py add_administrator yuki "Yuki Arai" --one-time   prints a one-time password once
"""

from __future__ import annotations

import getpass
import sys
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from labsite.accounts.models import User
from labsite.accounts.passwords import one_time_password
from labsite.accounts.roles import Role
from labsite.accounts.services import add_person, system_user
from labsite.errors import LabError


class Command(BaseCommand):
    help = "Makes an account with the role administrator; its entry in the history says by whom."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("username", help="the sign-in name")
        parser.add_argument("full_name", help="the name that others see")
        parser.add_argument(
            "--one-time",
            action="store_true",
            help="print a one-time password instead of asking for one",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        password = one_time_password() if options["one_time"] else _ask()
        person = _add(options["username"], options["full_name"], password)
        self.stdout.write(f"{person.full_name} can sign in as {person.username}.")
        if options["one_time"]:
            self.stdout.write(f"One-time password, shown this once: {password}")
        self.stdout.write("The first sign-in asks for a new password.")


def _ask() -> str:
    if not sys.stdin.isatty():
        raise CommandError("There is no terminal to ask for a password; use --one-time.")
    password = getpass.getpass("Password (at least 12 characters): ")
    if password != getpass.getpass("Once more: "):
        raise CommandError("The two passwords differ. Nothing was made.")
    return password


def _add(username: str, full_name: str, password: str) -> User:
    try:
        return add_person(
            actor=system_user(),
            username=username,
            full_name=full_name,
            role=Role.ADMINISTRATOR,
            password=password,
        )
    except LabError as error:
        details = [text for texts in error.fields.values() for text in texts]
        raise CommandError(" ".join(map(str, [error.message, *details]))) from error
    except ValidationError as error:
        raise CommandError(" ".join(error.messages)) from error
