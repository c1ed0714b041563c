"""Entity tags: If-Match on changes, If-None-Match on pages that refresh themselves."""

from __future__ import annotations

import hashlib
from typing import Any

from django.utils.translation import gettext as _
from rest_framework.renderers import JSONRenderer
from rest_framework.response import Response

from labsite.errors import PreconditionRequired, Stale
from labsite.records import LabRecord


def require_match(request: Any, record: LabRecord, represent: Any) -> None:
    """Raise unless If-Match names the present version of `record`.

    Raises PreconditionRequired (428) without the header and Stale (412) with the newer values.
    """
    sent = request.headers.get("If-Match", "")
    if not sent:
        raise PreconditionRequired(
            "if_match_required",
            _("Send the ETag of the version you saw in a header If-Match."),
        )
    if record.etag not in [tag.strip() for tag in sent.split(",")]:
        raise Stale(
            "stale",
            _("This was changed since you looked at it. Compare with the newer values."),
            current=represent(record),
        )


def tagged(record: LabRecord, body: Any, *, status: int = 200) -> Response:
    """Answer with `body` and the ETag of `record`."""
    return Response(body, status=status, headers={"ETag": record.etag})


def fresh_or_unchanged(request: Any, body: Any, *, volatile: tuple[str, ...] = ()) -> Response:
    """Answer 304 when the caller has this content; `volatile` keys (a clock) do not count."""
    steady = {key: value for key, value in body.items() if key not in volatile}
    etag = f'"{hashlib.sha256(JSONRenderer().render(steady)).hexdigest()[:32]}"'
    if request.headers.get("If-None-Match") == etag:
        return Response(status=304, headers={"ETag": etag})
    return Response(body, headers={"ETag": etag})
