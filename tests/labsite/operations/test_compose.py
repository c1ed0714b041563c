"""docker-compose.yml: valid, no default passwords, and the commands that `up` runs too."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

from labsite.operations.management.commands import up

ROOT = Path(__file__).resolve().parents[3]
FILE = ROOT / "docker-compose.yml"
OURS = ("prepare", "web", "worker", "beat")


@pytest.fixture(scope="module")
def services():
    return yaml.safe_load(FILE.read_text())["services"]


def check(path):
    command = [sys.executable, "-m", "check_jsonschema", "--builtin-schema", "vendor.compose-spec"]
    return subprocess.run([*command, str(path)], capture_output=True, text=True)


def test_it_is_a_valid_compose_file():
    done = check(FILE)
    assert done.returncode == 0, done.stdout


def test_the_schema_would_find_a_misspelt_key(tmp_path):
    wrong = tmp_path / "docker-compose.yml"
    wrong.write_text(FILE.read_text().replace("depends_on:", "depend_on:", 1))
    assert check(wrong).returncode != 0


def test_every_secret_is_required_and_none_has_a_default():
    text = FILE.read_text()
    used = re.findall(r"\$\{(\w*(?:PASSWORD|SECRET|KEY)\w*)(.{2})", text)
    assert {name for name, _ in used} == {
        "POSTGRES_PASSWORD",
        "REDIS_PASSWORD",
        "RESTHEIGHT_SECRET_KEY",
    }
    assert {operator for _, operator in used} == {":?"}


def test_every_lasting_service_has_a_health_check_and_starts_again(services):
    lasting = services.keys() - {"prepare"}
    assert lasting == {"web", "worker", "beat", "postgres", "redis"}
    for name in lasting:
        assert services[name]["healthcheck"]["test"], name
        assert services[name]["restart"] == "unless-stopped", name


def test_all_of_ours_run_the_same_image_with_the_same_settings(services):
    images = {services[name]["image"] for name in OURS}
    assert len(images) == 1
    assert all(services[name]["environment"] == services["web"]["environment"] for name in OURS)


def test_data_lies_in_named_volumes(services):
    named = yaml.safe_load(FILE.read_text())["volumes"]
    used = {volume.partition(":")[0] for name in services for volume in services[name]["volumes"]}
    assert used == named.keys() == {"data", "postgres", "redis"}


def test_redis_keeps_its_messages_and_drops_none(services):
    command = " ".join(services["redis"]["command"])
    assert "--appendonly yes" in command
    assert "--maxmemory-policy noeviction" in command
    assert "--requirepass" in command


def test_the_image_runs_as_an_own_user_from_the_hashed_lock():
    text = (ROOT / "Dockerfile").read_text()
    assert re.search(r"^USER restheight$", text, re.M)
    assert "--require-hashes --requirement requirements.lock" in text
    assert "RESTHEIGHT_BOOTSTRAP=off" in text


def words(command):
    return {word for word in command if word.startswith("-") or word in ("gthread", "threads")}


def test_web_and_worker_are_started_as_up_starts_them(services):
    image_command = re.search(r"^CMD (\[.*?\])", (ROOT / "Dockerfile").read_text(), re.M | re.S)
    web = yaml.safe_load(image_command[1].replace("\\\n", ""))
    assert web[:2] == up.gunicorn("", 2)[:2] == ["gunicorn", "labsite.wsgi"]
    assert words(web) <= words(up.gunicorn("0.0.0.0:8000", 2))
    worker = services["worker"]["command"]
    assert worker[0] == "celery"
    assert words(worker) <= words(up.celery_with_beat())
    assert "--beat" not in worker
    assert services["beat"]["command"][3] == "beat"
