"""Copying a whole database out of and into SQLite and PostgreSQL, consistent under load."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import IO, Protocol

from django.db import connection

# As PostgreSQL makes it in a new database; the dump brings no command of its own for it.
EMPTY_PUBLIC_SCHEMA = b"""
DROP SCHEMA public CASCADE;
CREATE SCHEMA public;
ALTER SCHEMA public OWNER TO pg_database_owner;
GRANT USAGE ON SCHEMA public TO PUBLIC;
COMMENT ON SCHEMA public IS 'standard public schema';
"""


class CopyFailed(Exception):
    """The database could not be copied; the message says why."""


class Engine(Protocol):
    """How one kind of database is copied: `name` stands in the manifest."""

    name: str
    file_name: str

    def dump(self, target: Path) -> None: ...

    def check(self, source: Path) -> None: ...

    def load(self, source: Path) -> None: ...


class Sqlite:
    """By SQLite's backup interface: one consistent state, whoever writes meanwhile."""

    name = "sqlite"
    file_name = "database.sqlite3"

    def __init__(self, path: Path) -> None:
        self.path = path

    def dump(self, target: Path) -> None:
        with closing(sqlite3.connect(self.path)) as live, closing(sqlite3.connect(target)) as copy:
            live.backup(copy, pages=-1)
            copy.execute("PRAGMA journal_mode=DELETE")  # one file, no log beside it
        self.check(target)

    def check(self, source: Path) -> None:
        try:
            with closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True)) as copy:
                answer = copy.execute("PRAGMA integrity_check").fetchone()[0]
                orphans = copy.execute("PRAGMA foreign_key_check").fetchone()
        except sqlite3.DatabaseError as error:
            raise CopyFailed(f"the copied database cannot be read ({error})") from error
        if answer != "ok" or orphans is not None:
            raise CopyFailed(f"the copied database is not sound ({orphans or answer})")

    def load(self, source: Path) -> None:
        # One transaction in the live file: a crash leaves the old state or the new one.
        connection.close()
        open_live = partial(sqlite3.connect, self.path, timeout=20)
        with closing(sqlite3.connect(source)) as copy, closing(open_live()) as live:
            copy.backup(live, pages=-1)
            live.execute("PRAGMA journal_mode=WAL")


class Postgres:
    """By pg_dump and pg_restore, in one snapshot out and one transaction in."""

    name = "postgresql"
    file_name = "database.dump"

    def dump(self, target: Path) -> None:
        with open(target, "wb") as file:
            self._run("pg_dump", ["--format=custom", "--no-owner", "--no-privileges"], out=file)

    def check(self, source: Path) -> None:
        self._run("pg_restore", ["--file=/dev/null", str(source)], connect=False)

    def load(self, source: Path) -> None:
        connection.close()
        script = source.with_suffix(".sql")
        with open(script, "wb") as file:
            file.write(EMPTY_PUBLIC_SCHEMA)
            file.flush()
            options = ["--no-owner", "--no-privileges", "--file=-", str(source)]
            self._run("pg_restore", options, connect=False, out=file)
        quiet = ["--no-psqlrc", "--quiet", "--output=/dev/null", "--set=ON_ERROR_STOP=1"]
        self._run("psql", [*quiet, "--single-transaction", f"--file={script}"])

    def _run(
        self,
        program: str,
        options: list[str],
        *,
        connect: bool = True,
        out: IO[bytes] | int = subprocess.DEVNULL,
    ) -> None:
        if shutil.which(program) is None:
            raise CopyFailed(f"{program} is missing; install the package postgresql-client")
        done = subprocess.run(
            [program, *options],
            env={**os.environ, **(self._connection_variables() if connect else {})},
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=subprocess.PIPE,
        )
        if done.returncode:
            raise CopyFailed(f"{program}: {done.stderr.decode(errors='replace').strip()}")

    @staticmethod
    def _connection_variables() -> dict[str, str]:
        # By environment: a password on the command line would be everybody's to read.
        settings = connection.settings_dict
        names = {
            "PGHOST": "HOST",
            "PGPORT": "PORT",
            "PGUSER": "USER",
            "PGPASSWORD": "PASSWORD",
            "PGDATABASE": "NAME",
        }
        given = {variable: str(settings.get(name) or "") for variable, name in names.items()}
        given["PGSSLMODE"] = str(settings.get("OPTIONS", {}).get("sslmode", ""))
        return {variable: value for variable, value in given.items() if value}


def current_engine() -> Engine:
    if connection.vendor == "sqlite":
        return Sqlite(Path(connection.settings_dict["NAME"]))
    return Postgres()
