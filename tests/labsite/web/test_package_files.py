"""Files served from installed packages: those named and no others."""

from __future__ import annotations

from pathlib import Path

import pytest

from labsite.web.finders import PackageFiles, PackageFilesFinder

SERVED = {
    "vendor/plotly/plotly.min.js",
    "vendor/fonts/AtkinsonHyperlegible-Regular.ttf",
    "vendor/fonts/AtkinsonHyperlegible-Bold.ttf",
    "vendor/fonts/LICENSE",
}


def test_lists_the_named_files_only():
    listed = {f"{storage.prefix}/{name}" for name, storage in PackageFilesFinder().list([])}
    assert listed == SERVED


@pytest.mark.parametrize("path", sorted(SERVED))
def test_finds_each_file_where_it_is_served(path):
    found = PackageFilesFinder().find(path)
    assert Path(found).stat().st_size > 1000
    assert PackageFilesFinder().find(path, find_all=True) == [found]


def test_storage_opens_what_it_lists():
    for name, storage in PackageFilesFinder().list([]):
        with storage.open(name) as file:
            assert file.read(1)


@pytest.mark.parametrize(
    "path",
    ["vendor/plotly/widgetbundle.js", "vendor/plotly/../plotly.min.js", "plotly.min.js", ""],
)
def test_finds_nothing_else(path):
    assert PackageFilesFinder().find(path) == []
    assert PackageFilesFinder().find(path, find_all=True) == []


def test_missing_package_is_named():
    with pytest.raises(FileNotFoundError, match="no_such_package"):
        PackageFiles("vendor/x", "no_such_package", "", ()).root()
