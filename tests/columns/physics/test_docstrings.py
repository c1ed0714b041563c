"""Public numerical functions keep their contract: names, units, errors, sources."""

import importlib
import inspect
import re

import pytest

# Result types are made by functions of the package, never by its callers.
RESULTS = {
    "Budget",
    "BudgetPart",
    "Calibration",
    "PooledScatter",
    "Replicates",
    "SpecimenDensity",
}
PACKAGES = ("columns.physics", "samples.stats")


def public_functions():
    for package in PACKAGES:
        module = importlib.import_module(package)
        for name in module.__all__:
            yield pytest.param(getattr(module, name), id=f"{package}.{name}")


def section(text, title):
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", text, re.M | re.S)
    return found.group(1) if found else ""


def described(text):
    """Parameter names of the docstring, each with the text under it."""
    rows = re.split(r"^(\w[\w, ]*) : .*$", section(text, "Parameters"), flags=re.M)[1:]
    return dict(zip(rows[::2], rows[1::2], strict=True))


@pytest.mark.parametrize("function", list(public_functions()))
def test_docstring_matches_the_signature_and_names_units(function):
    text = inspect.getdoc(function)
    assert text
    if function.__name__ in RESULTS:
        return
    parameters = described(text)
    assert list(parameters) == list(inspect.signature(function).parameters)
    for name, words in parameters.items():
        assert re.search(r"\[[^\]]+\]", words), f"{name} has no unit in brackets"
    assert section(text, "Raises").strip()
    assert section(text, "References").strip()


def test_result_types_of_the_list_exist():
    named = {name for package in PACKAGES for name in importlib.import_module(package).__all__}
    assert named >= RESULTS
