"""The API's description is true: it is made without a warning, and answers keep to it."""

from __future__ import annotations

import json
import re
import uuid
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.validation import validate_schema
from hypothesis import HealthCheck, Phase, given, settings
from rest_framework.test import APIClient

from labsite.accounts.models import User
from labsite.accounts.tokens import make_token
from labsite.wsgi import application
from tests.conftest import client_of

ROOT = Path(__file__).resolve().parent.parent
DOCS = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def description() -> dict[str, Any]:
    GENERATOR_STATS.reset()
    return SchemaGenerator().get_schema(request=None, public=True)


def test_it_is_made_without_a_warning_and_is_valid(description: dict[str, Any]) -> None:
    assert not GENERATOR_STATS
    validate_schema(description)


def test_every_address_stands_in_the_docs(description: dict[str, Any]) -> None:
    told = set(re.findall(r"^\| `([^`]*)`", DOCS, flags=re.M))
    assert told == {path.removeprefix("/api/v1/") for path in description["paths"]}


def test_every_operation_tells_its_refusals(description: dict[str, Any]) -> None:
    for path, item in description["paths"].items():
        for verb, operation in item.items():
            if verb in ("get", "post", "patch"):
                assert {"401", "403"} <= set(operation["responses"]), (verb, path)


def test_the_example_of_the_docs_gives_the_figures_of_the_docs(technician: User) -> None:
    """The six floats are the worked example of fixtures/reference/04e_column_example.json."""
    body = json.loads(re.search(r"```json\n(\{\"origin\".*?)```", DOCS, flags=re.S)[1])
    answer = client_of(technician).post("/api/v1/compute/calibration", body)
    assert answer.status_code == 200, answer.content
    inside, above = answer.json()["specimens"]
    assert inside["bracketing"]["density_g_cm3"] == pytest.approx(0.95237305, abs=1e-8)
    assert (above["outcome"], above["bound_float"]) == ("lighter", "F-6")


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_no_request_makes_the_server_fail(
    manager: User, flushed_history: None, subtests: Any
) -> None:
    """Made-up requests for every operation: no 5xx, and every answer is one that is described."""
    _token, key = make_token(actor=manager, name="fuzz")
    schema = schemathesis.openapi.from_wsgi("/api/v1/schema/", application, headers=_headers(key))
    for found in schema.get_all_operations():
        operation = found.ok()
        with subtests.test(operation=operation.label):
            _fuzz(operation, key)


def _headers(key: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {key}", "Idempotency-Key": uuid.uuid4().hex}


def _fuzz(operation: Any, key: str) -> None:
    @settings(
        max_examples=15,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy())
    def ask(case: Any) -> None:
        answer = case.call(headers=_headers(key))
        assert answer.status_code < 500, answer.text
        described = operation.definition.raw["responses"]
        assert str(answer.status_code) in {*described, "405"}, answer.text

    ask()


def test_the_description_is_for_signed_in_people_only(db: None) -> None:
    assert APIClient().get("/api/v1/schema/").status_code == 401
