"""Every public formula says what its arguments are, in which unit, and where it comes from; its examples run."""

import doctest
import importlib
import inspect
import re
from types import FunctionType

import pytest

MODULES = ("cylinder", "holding", "pump", "orifice", "valve", "oil", "travel")
PLACES = [f"oilpath.physics.formulas.{module}" for module in MODULES] + ["oilpath.uncertainty"]


def _public_functions(place: str) -> list[FunctionType]:
    module = importlib.import_module(place)
    return [
        member
        for name, member in inspect.getmembers(module, inspect.isfunction)
        if not name.startswith("_") and member.__module__ == place
    ]


FUNCTIONS = [pytest.param(f, id=f"{place}.{f.__name__}") for place in PLACES for f in _public_functions(place)]


def _section(doc: str, title: str) -> str:
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w+\n-+\n|^>>>|\Z)", doc, re.MULTILINE | re.DOTALL)
    return found.group(1).strip() if found else ""


def test_functions_are_found_in_every_module() -> None:
    assert all(_public_functions(place) for place in PLACES)


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_argument_and_the_result_have_a_unit(function: FunctionType) -> None:
    doc = inspect.getdoc(function) or ""
    described = dict(re.findall(r"^(\w+) : (.*)$", _section(doc, "Parameters"), re.MULTILINE))
    assert list(described) == list(inspect.signature(function).parameters)
    lacking = [name for name, words in described.items() if not re.search(r"\[[^\]]+\]$", words)]
    assert not lacking
    assert re.search(r"\[[^\]]+\]$", _section(doc, "Returns"))


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_formula_names_its_errors_and_its_source(function: FunctionType) -> None:
    doc = inspect.getdoc(function) or ""
    assert _section(doc, "Raises").startswith("ValueError : ")
    assert re.match(r"\[1\] \S", _section(doc, "Source"))


@pytest.mark.parametrize("place", PLACES)
def test_module_index_lists_every_public_function(place: str) -> None:
    index = importlib.import_module(place).__doc__ or ""
    assert [f.__name__ for f in _public_functions(place) if f"``{f.__name__}``" not in index] == []


@pytest.mark.parametrize("place", PLACES)
def test_examples_in_docstrings(place: str) -> None:
    assert doctest.testmod(importlib.import_module(place)).failed == 0
