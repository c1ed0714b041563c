"""Documents of certificates: what they are is told by their content, not by their name."""

from __future__ import annotations

import hashlib
from typing import Any

from django.utils.translation import gettext as _

from labsite.errors import RuleViolation, TooLarge, UnsupportedType

LARGEST_BYTES = 10 * 1024 * 1024
CONTENT_TYPES = {"pdf": "application/pdf", "png": "image/png", "jpg": "image/jpeg"}
_SIGNATURES = {"pdf": b"%PDF-", "png": b"\x89PNG\r\n\x1a\n", "jpg": b"\xff\xd8\xff"}
# Readers accept some bytes before the header of a PDF, so that mailed files still open.
_PDF_HEADER_WITHIN = 1024


def read_document(upload: Any) -> tuple[bytes, str]:
    """Content and kind of an uploaded file.

    Raises TooLarge, UnsupportedType for anything but PDF, PNG or JPEG, RuleViolation when empty.
    """
    if upload.size > LARGEST_BYTES:
        raise TooLarge(
            "document_too_large",
            _("A document may have up to %(megabytes)s MB.")
            % {"megabytes": LARGEST_BYTES // 1024 // 1024},
            fields={"document": [_("too large")]},
        )
    content = upload.read()
    if not content:
        raise RuleViolation(
            "document_empty", _("This file is empty."), fields={"document": [_("empty")]}
        )
    return content, _kind_of(content)


def _kind_of(content: bytes) -> str:
    if _SIGNATURES["pdf"] in content[:_PDF_HEADER_WITHIN]:
        return "pdf"
    for kind, signature in _SIGNATURES.items():
        if content.startswith(signature):
            return kind
    raise UnsupportedType(
        "document_type",
        _(
            "A certificate is a PDF, PNG or JPEG file. This file is something else, whatever its "
            "name says."
        ),
        fields={"document": [_("PDF, PNG or JPEG")]},
    )


def digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
