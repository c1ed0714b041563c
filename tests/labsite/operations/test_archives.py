"""An archive is believed only when its files are those of its manifest, byte for byte."""

from __future__ import annotations

import io
import json
import random
import stat
import tarfile

import pytest

from labsite.operations import archives
from labsite.operations.archives import BadArchive, unpack_archive, write_archive

DOCUMENT = "documents/2026/certificate.pdf"


@pytest.fixture
def files(tmp_path):
    noise = random.Random(7)  # without long runs: a flipped bit is always inside some content
    database, document = tmp_path / "db", tmp_path / "doc"
    database.write_bytes(noise.randbytes(70_000))
    document.write_bytes(noise.randbytes(3_000))
    return {"database.sqlite3": database, DOCUMENT: document}


@pytest.fixture
def archive(files, tmp_path):
    target = tmp_path / "backup.tar"
    write_archive(target, files, {"engine": "sqlite"})
    return target


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "unpacked"


def test_what_was_packed_is_unpacked(files, archive, folder):
    manifest = unpack_archive(archive, folder)
    assert manifest["engine"] == "sqlite"
    assert {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    } == {name: path.read_bytes() for name, path in files.items()}


def test_a_backup_is_readable_by_its_owner_only(archive):
    assert stat.S_IMODE(archive.stat().st_mode) == 0o600


def test_nothing_of_an_unfinished_backup_stays(files, tmp_path):
    target = tmp_path / "other.tar"
    with pytest.raises(OSError, match="missing"):
        write_archive(target, {**files, "late": tmp_path / "missing"}, {})
    assert not list(tmp_path.glob("other.tar*"))


@pytest.mark.parametrize("share", [0, 0.01, 0.3, 0.6, 0.9, 0.97])
def test_a_cut_archive_is_refused(archive, folder, share):
    content = archive.read_bytes()
    archive.write_bytes(content[: int(len(content) * share)])
    with pytest.raises(BadArchive):
        unpack_archive(archive, folder)


def test_a_file_lost_at_its_boundary_is_missed(archive, folder):
    """There a tar alone would look whole."""
    content = archive.read_bytes()
    at = content.rindex(DOCUMENT.encode())
    lost = content[:at] + bytes(1024)
    archive.write_bytes(lost + bytes(-len(lost) % tarfile.RECORDSIZE))
    with pytest.raises(BadArchive, match=f"'{DOCUMENT}' is missing"):
        unpack_archive(archive, folder)


def content_areas(archive):
    with tarfile.open(archive) as tar:
        return [(entry.offset_data, entry.size) for entry in tar if entry.name != "manifest.json"]


def test_any_flipped_bit_of_any_file_is_found(archive, folder):
    content = archive.read_bytes()
    chance = random.Random(11)
    for start, size in content_areas(archive):
        for at in [start, start + size - 1, *(start + chance.randrange(size) for _ in range(30))]:
            damaged = bytearray(content)
            damaged[at] ^= 1 << chance.randrange(8)
            archive.write_bytes(damaged)
            with pytest.raises(BadArchive, match="damaged"):
                unpack_archive(archive, folder)


@pytest.mark.parametrize("content", [b"", b"root:x:0:0", bytes(10240)])
def test_what_is_no_archive_is_refused(archive, folder, content):
    archive.write_bytes(content)
    with pytest.raises(BadArchive):
        unpack_archive(archive, folder)


def forge(archive, manifest, members):
    with tarfile.open(archive, "w") as tar:
        for name, content in [("manifest.json", json.dumps(manifest).encode()), *members]:
            entry = tarfile.TarInfo(name)
            entry.size = len(content)
            tar.addfile(entry, io.BytesIO(content))


def manifest_of(*names):
    files = {name: {"bytes": 0, "sha256": "0" * 64} for name in names}
    return {"format": archives.FORMAT, "format_version": 1, "files": files}


@pytest.mark.parametrize("name", ["../evil", "/etc/evil", "a/../../evil", "./evil"])
def test_nothing_is_unpacked_outside_the_folder(archive, folder, name):
    forge(archive, manifest_of(name), [(name, b"")])
    with pytest.raises(BadArchive, match="outside"):
        unpack_archive(archive, folder)
    assert not folder.exists()


def test_a_file_that_the_manifest_does_not_name_is_refused(archive, folder):
    forge(archive, manifest_of(), [("extra", b"")])
    with pytest.raises(BadArchive, match="not in its manifest"):
        unpack_archive(archive, folder)


def test_another_version_of_the_format_is_refused(archive, folder):
    forge(archive, {**manifest_of(), "format_version": 2}, [])
    with pytest.raises(BadArchive, match="format"):
        unpack_archive(archive, folder)


@pytest.mark.parametrize("manifest", [[], {}, {"format": archives.FORMAT}, None])
def test_a_broken_manifest_is_refused(archive, folder, manifest):
    forge(archive, manifest, [])
    with pytest.raises(BadArchive, match="manifest"):
        unpack_archive(archive, folder)
