"""A backup taken while people write restores to the same bytes; a bad one touches nothing."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import psycopg
import pytest

from labsite.operations.archives import unpack_archive

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[3]
WRITERS = 3
# Writes a document and then a person with history, again and again; says each one that is kept.
WRITER = """
import itertools, sys
import django
django.setup()
from pathlib import Path
from django.conf import settings
from tests.factories import make_person
folder = Path(settings.MEDIA_ROOT)
folder.mkdir(exist_ok=True)
for number in itertools.count():
    name = f"writer{sys.argv[1]}-{number:05d}"
    (folder / f"{name}.txt").write_text(name * 50)
    make_person(username=name)
    print(name, flush=True)
"""
POSTGRES_URL = os.environ.get("TEST_POSTGRES_URL", "")
ENGINES = ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)]


class Place:
    """One installation: its data folder, its database, and manage.py run on them."""

    def __init__(self, folder: Path, engine: str) -> None:
        self.folder = folder
        self.engine = engine
        self.env = {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "tests.settings",
            "PYTHONPATH": str(ROOT),
            "RESTHEIGHT_BOOTSTRAP": "off",
            "RESTHEIGHT_DATA_DIR": str(folder),
        }
        self.env.pop("DATABASE_URL", None)
        if engine == "postgresql":
            server = POSTGRES_URL.rpartition("/")[0]
            self.database = f"restheight_test_{folder.name}_{os.getpid()}"
            self.env["DATABASE_URL"] = f"{server}/{self.database}"
            self.admin = f"{server}/postgres"
            self.sql(f"DROP DATABASE IF EXISTS {self.database}")
            self.sql(f"CREATE DATABASE {self.database}")

    def sql(self, statement: str) -> None:
        with psycopg.connect(self.admin, autocommit=True) as connection:
            connection.execute(statement)

    def remove(self) -> None:
        if self.engine == "postgresql":
            self.sql(f"DROP DATABASE IF EXISTS {self.database} WITH (FORCE)")

    def manage(self, *arguments: object, fails: bool = False) -> str:
        done = subprocess.run(
            [sys.executable, "manage.py", *map(str, arguments)],
            cwd=ROOT,
            env=self.env,
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert (done.returncode != 0) is fails, done.stdout + done.stderr
        return done.stderr if fails else done.stdout

    def start_writer(self, number: int) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [sys.executable, "-c", WRITER, str(number)],
            cwd=ROOT,
            env=self.env,
            stdout=open(self.folder / f"kept-{number}", "w"),
            stderr=subprocess.DEVNULL,
            text=True,
        )

    def kept(self) -> set[str]:
        return {
            name
            for number in range(WRITERS)
            for name in (self.folder / f"kept-{number}").read_text().splitlines()
        }

    def dump(self, archive: Path) -> str:
        """The whole database in `archive` as SQL text."""
        folder = self.folder / f"unpacked-{archive.stem}"
        shutil.rmtree(folder, ignore_errors=True)
        unpack_archive(archive, folder)
        if self.engine == "sqlite":
            return dump_of(folder / "database.sqlite3")
        return postgres_dump_of(folder / "database.dump")


def postgres_dump_of(dump: Path) -> str:
    """Every row, and the names of all tables, constraints, indexes and triggers.

    Not their definitions: PostgreSQL prints some conditions in other words once it has read them.
    """

    def pg_restore(*options: str) -> str:
        command = ["pg_restore", *options, dump]
        return subprocess.run(command, check=True, capture_output=True, text=True).stdout

    # \restrict carries a random word for each dump; a list begins with numbers of its own
    rows = re.sub(
        r"^(--.*|\\(un)?restrict .*)\n", "", pg_restore("--data-only", "--file=-"), flags=re.M
    )
    names = re.findall(r"^\d+; \d+ \d+ (.*)$", pg_restore("--list"), flags=re.M)
    assert names
    return rows + "\n".join(sorted(names))


def dump_of(database: Path) -> str:
    with closing(sqlite3.connect(database)) as connection:
        return "\n".join(connection.iterdump())


@pytest.fixture(params=ENGINES)
def places(request, tmp_path):
    """Two installations of the same kind: `a` is in use, `b` is empty and not yet migrated."""
    if request.param == "postgresql" and not POSTGRES_URL:
        pytest.skip("TEST_POSTGRES_URL names no PostgreSQL server")
    made = []
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        made.append(Place(tmp_path / name, request.param))
    made[0].manage("migrate", "--verbosity=0")
    made[0].manage("createcachetable")
    yield made
    for place in made:
        place.remove()


def wait_for(condition):
    ends = time.monotonic() + 60
    while not condition():
        assert time.monotonic() < ends, "nothing happened for a minute"
        time.sleep(0.05)


@pytest.fixture
def busy(places):
    """Installation `a` while three processes write into it."""
    writers = [places[0].start_writer(number) for number in range(WRITERS)]
    try:
        wait_for(lambda: len(places[0].kept()) > 30)
        yield places[0]
    finally:
        for writer in writers:
            writer.kill()
            writer.wait()


def people_in(dump: str) -> dict[str, list[int]]:
    """Numbers of the people that a dump holds, by writer."""
    found: dict[str, list[int]] = {}
    for writer, number in sorted(set(re.findall(r"\b(writer\d)-(\d{5})\b", dump))):
        found.setdefault(writer, []).append(int(number))
    return found


def test_a_backup_under_load_restores_to_the_same_bytes(busy, places, tmp_path):
    before = busy.kept()
    archive = tmp_path / "under-load.tar"
    busy.manage("backup", "--to", archive)
    wait_for(lambda: len(busy.kept()) > len(before) + 5)  # the writers were not stopped by it

    _, empty = places
    said = empty.manage("restore", archive)
    assert "The history holds" in said
    again = tmp_path / "again.tar"
    empty.manage("backup", "--to", again)
    assert empty.dump(again) == busy.dump(archive)

    people = people_in(busy.dump(archive))
    assert len(people) == WRITERS
    for writer, numbers in people.items():  # nothing acknowledged is missing, nothing is torn
        assert numbers == list(range(len(numbers)))
        kept = sum(name.startswith(writer) for name in before)
        assert len(numbers) >= kept
        for number in numbers:
            document = empty.folder / "documents" / f"{writer}-{number:05d}.txt"
            assert document.read_text() == f"{writer}-{number:05d}" * 50


@pytest.fixture
def archive(places, tmp_path):
    file = tmp_path / "good.tar"
    (places[0].folder / "documents").mkdir()
    (places[0].folder / "documents" / "certificate.pdf").write_bytes(b"%PDF" + bytes(3000))
    places[0].manage("shell", "-c", "from labsite.accounts.services import system_user as s; s()")
    places[0].manage("backup", "--to", file)
    return file


def test_a_database_with_data_is_only_replaced_on_demand(archive, places):
    used, _ = places
    assert "Say --yes" in used.manage("restore", archive, fails=True)
    (used.folder / "documents" / "later.pdf").write_bytes(b"later")
    assert "Restored" in used.manage("restore", archive, "--yes")
    assert [path.name for path in (used.folder / "documents").iterdir()] == ["certificate.pdf"]


def test_a_damaged_backup_is_refused_and_nothing_is_touched(archive, places, tmp_path):
    used, _ = places
    content = archive.read_bytes()
    bad, untouched = tmp_path / "bad.tar", tmp_path / "untouched.tar"
    bad.write_bytes(content[: len(content) * 2 // 3])
    assert "cut short" in used.manage("restore", bad, "--yes", fails=True)
    used.manage("backup", "--to", untouched)
    assert used.dump(untouched) == used.dump(archive)
    assert (used.folder / "documents" / "certificate.pdf").exists()
    assert not list(used.folder.glob(".backup-*"))


def test_an_existing_file_is_never_overwritten_by_a_backup(archive, places):
    content = archive.read_bytes()
    assert "is there already" in places[0].manage("backup", "--to", archive, fails=True)
    assert archive.read_bytes() == content
