"""What an uploaded file is, by its content; its name only has to agree."""

from __future__ import annotations

import io
import zipfile
from pathlib import PurePath

from django.utils.translation import gettext as _

from labsite.errors import LabError, TooLarge, UnsupportedType

CSV, XLSX = "csv", "xlsx"
LARGEST_BYTES = 5 * 1024 * 1024
LARGEST_UNZIPPED_BYTES = 25 * 1024 * 1024
MOST_PARTS = 200  # files inside a workbook; a plain one has about a dozen

TEXT_SUFFIXES = (".csv", ".txt", ".tsv")
_ZIP = b"PK\x03\x04"
_FOREIGN = (
    (b"\xd0\xcf\x11\xe0", "old"),
    (b"\x89PNG", "picture"),
    (b"\xff\xd8\xff", "picture"),
    (b"GIF8", "picture"),
    (b"II*\x00", "picture"),
    (b"MM\x00*", "picture"),
    (b"%PDF", "document"),
    (b"PK", "archive"),
    (b"\x1f\x8b", "archive"),
    (b"7z\xbc\xaf", "archive"),
)


def format_of(file_name: str, content: bytes) -> str:
    """CSV or XLSX; raises TooLarge (413), UnsupportedType (415) or LabError (400, empty file)."""
    refuse_large(len(content))
    if not content.strip(b" \t\r\n\x00"):
        raise LabError("file_empty", _("The file is empty. Choose a file with a row of headers."))
    suffix = PurePath(file_name).suffix.lower()
    if suffix == ".xlsx":
        _require_workbook(content)
        return XLSX
    if suffix in TEXT_SUFFIXES:
        _require_text(content)
        return CSV
    raise UnsupportedType(
        "file_type",
        _("Files named “%(suffix)s” are not read here. Save it as .csv or .xlsx.")
        % {"suffix": suffix or file_name[-40:]},
    )


def refuse_large(size: int) -> None:
    if size > LARGEST_BYTES:
        raise TooLarge(
            "file_too_large",
            _("The file has %(size)s MB; up to 5 MB are read. Split it into several files.")
            % {"size": f"{size / 1024 / 1024:.1f}"},
        )


def _require_text(content: bytes) -> None:
    if content.startswith(_ZIP) and _is_workbook(content):
        raise UnsupportedType(
            "workbook_named_csv",
            _("This is a workbook with the name of a text file. Name it .xlsx and try again."),
        )
    _refuse_foreign(content)


def _require_workbook(content: bytes) -> None:
    if not content.startswith(_ZIP):
        _refuse_foreign(content)
        raise UnsupportedType(
            "text_named_xlsx",
            _("This is no workbook, although its name ends in .xlsx. Name a text file .csv."),
        )
    if not _is_workbook(content):
        raise UnsupportedType("file_type", _("This is an archive, not a workbook. Save as .xlsx."))


def _refuse_foreign(content: bytes) -> None:
    sentences = {
        "old": _("This is a workbook of the old kind. Save it as .xlsx or .csv."),
        "picture": _("This is a picture. Type its rows into a .csv or .xlsx file."),
        "document": _("This is a PDF. Type its rows into a .csv or .xlsx file."),
        "archive": _("This is an archive. Unpack it and choose the .csv or .xlsx file in it."),
    }
    for start, what in _FOREIGN:
        if content.startswith(start):
            raise UnsupportedType("file_type", sentences[what])


def _is_workbook(content: bytes) -> bool:
    """Look only into the zip's directory, so that nothing is unpacked before its size is known."""
    try:
        parts = zipfile.ZipFile(io.BytesIO(content)).infolist()
    except (zipfile.BadZipFile, ValueError, NotImplementedError) as error:
        raise UnsupportedType(
            "file_damaged", _("The workbook is damaged. Save it again and try once more.")
        ) from error
    if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > LARGEST_UNZIPPED_BYTES:
        raise TooLarge(
            "unzipped_too_large",
            _("Unpacked, this workbook is too large. Keep only the sheet with the rows."),
        )
    if any(part.flag_bits & 0x1 for part in parts):
        raise UnsupportedType("file_locked", _("The workbook has a password. Save it without."))
    names = {part.filename for part in parts}
    return {"[Content_Types].xml", "xl/workbook.xml"} <= names
