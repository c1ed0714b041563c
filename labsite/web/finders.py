"""Static files that come with an installed package: Plotly's one file, the typeface's three.

Only the named files are offered; the folders they lie in hold megabytes that nobody asks for.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any, NamedTuple

from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage


class PackageFiles(NamedTuple):
    prefix: str  # where they are served below STATIC_URL
    package: str
    folder: str
    names: tuple[str, ...]

    def root(self) -> Path:
        spec = find_spec(self.package)
        if spec is None or not spec.submodule_search_locations:
            raise FileNotFoundError(f"the package {self.package} is not installed")
        return Path(next(iter(spec.submodule_search_locations))) / self.folder


PACKAGE_FILES = (
    PackageFiles("vendor/plotly", "plotly", "package_data", ("plotly.min.js",)),
    PackageFiles(
        "vendor/fonts",
        "fontpkg_atkinson_hyperlegible",
        "files",
        ("AtkinsonHyperlegible-Regular.ttf", "AtkinsonHyperlegible-Bold.ttf"),
    ),
    PackageFiles("vendor/fonts", "fontpkg_atkinson_hyperlegible", "", ("LICENSE",)),
)


class PackageFilesFinder(BaseFinder):
    def check(self, **kwargs: Any) -> list[Any]:
        return []

    def list(self, ignore_patterns: Any) -> Iterator[tuple[str, FileSystemStorage]]:
        for files in PACKAGE_FILES:
            storage = FileSystemStorage(location=files.root())
            storage.prefix = files.prefix
            for name in files.names:
                yield name, storage

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        matches = [
            str(files.root() / name)
            for files in PACKAGE_FILES
            for name in files.names
            if path == f"{files.prefix}/{name}"
        ]
        if find_all or kwargs.get("all"):
            return matches
        return matches[0] if matches else []
