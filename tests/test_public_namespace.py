"""`import pacewright as pw` is the whole public API, quick to import and true to its list of names."""

from __future__ import annotations

import ast
import importlib
import inspect
import json
import subprocess
import sys
import types

import pytest

import pacewright as pw


def test_dir_shows_exactly_the_public_names() -> None:
    assert dir(pw) == sorted(pw.__all__)
    assert len(set(pw.__all__)) == len(pw.__all__)


@pytest.mark.parametrize("name", pw.__all__)
def test_public_name_resolves_to_a_thing_and_not_to_a_module(name: str) -> None:
    assert not isinstance(getattr(pw, name), types.ModuleType)


@pytest.mark.parametrize("name", [n for n in pw.__all__ if callable(getattr(pw, n))])
def test_public_callable_says_what_it_does(name: str) -> None:
    assert (getattr(pw, name).__doc__ or "").strip(), f"{name} has no docstring"


def test_a_name_that_is_not_there_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'nothing_of_the_kind'"):
        _ = pw.nothing_of_the_kind


def test_type_checkers_are_told_the_same_names_from_the_same_modules() -> None:
    told = {
        alias.asname: node.module
        for node in ast.walk(ast.parse(inspect.getsource(pw)))
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("pacewright.")
        for alias in node.names
    }
    assert set(told) == set(pw.__all__) - {"__version__"}
    for name, module in told.items():
        assert getattr(importlib.import_module(str(module)), str(name)) is getattr(pw, str(name))


def test_import_alone_loads_nothing_heavy() -> None:
    script = "import sys, json, pacewright; print(json.dumps(sorted(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    loaded = {name.partition(".")[0] for name in json.loads(done.stdout)}
    assert "pacewright" in loaded
    assert not loaded & {"numpy", "scipy", "typer", "rich", "altair", "ezc3d", "soundfile", "typst"}
