"""The imports page: who sees what, and that it holds what its script needs."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.reports.imports.files import floats_file

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("role", "kinds"),
    [
        ("technician", ["float-sets", "specimen-heights"]),
        ("shift_lead", ["floats", "float-sets", "specimen-heights"]),
        ("manager", ["floats", "float-sets", "specimen-heights"]),
        ("auditor", []),
        ("administrator", []),
    ],
)
def test_the_page_offers_what_a_role_may_import(
    role: str, kinds: list, request: Any, as_person: Any
) -> None:
    page = as_person(request.getfixturevalue(role)).get("/imports/")
    assert page.status_code == 200
    html = page.content.decode()
    offered = [kind for kind in ("floats", "float-sets", "specimen-heights")
               if f'value="{kind}"' in html]  # fmt: skip
    assert offered == kinds
    assert ("reports/js/imports.js" in html) == bool(kinds)
    assert html.count("<h1") == 1


def test_the_page_lists_what_was_imported(
    shift_lead: Any, auditor: Any, commit: Any, as_person: Any
) -> None:
    commit(shift_lead, "floats", floats_file(2), "<b>certificates.csv")
    html = as_person(auditor).get("/imports/").content.decode()
    assert "&lt;b&gt;certificates.csv" in html
    assert "2 floats, 2 certificates" in html


def test_the_empty_table_has_headers_that_are_understood(
    shift_lead: Any, as_person: Any, preview: Any
) -> None:
    html = as_person(shift_lead).get("/imports/").content.decode()
    tables = re.findall(r'data-empty-table="([\w-]+)" data-headers="([^"]+)"', html)
    assert [kind for kind, _headers in tables] == ["floats", "float-sets", "specimen-heights"]
    for kind, headers in tables:
        names = headers.split("|")
        content = f"{','.join(names)}\r\n{','.join('x' for _name in names)}\r\n".encode()
        assert preview(shift_lead, kind, content).status_code == 200, kind


def test_nobody_signed_in_is_sent_to_the_sign_in(as_person: Any, db: Any) -> None:
    assert as_person(None).get("/imports/").status_code == 302
