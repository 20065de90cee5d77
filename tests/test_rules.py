"""Rules of the house that no linter knows: sizes, addresses, and commands that exist."""

from __future__ import annotations

import ast
import importlib
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer

from pacewright.cli.main import COMMANDS

ROOT = Path(__file__).parent.parent
SOURCES = ROOT / "src" / "pacewright"
MADE = {"build", "dist", "out", "demo-out", "__pycache__"}
KEPT_HIDDEN = {".ci", ".gitignore", ".editorconfig", ".pre-commit-config.yaml"}
TEXT_ENDINGS = {
    "", ".cfg", ".css", ".csv", ".html", ".in", ".js", ".json", ".lock", ".md", ".py", ".svg", ".toml",
    ".txt", ".typ", ".yaml", ".yml",
}  # fmt: skip
# Each name has a letter in brackets, so that no address stands here either.
ADDRESSES = re.compile(
    r"py[p]i[.]org|python[h]osted|npm[j]s|deb[.]deb[i]an[.]org"
    r"|(?<![\w.])/(?:[w]ork|[r]oot|[f]arm)/|(?<![\w.])/[h]ome/\w|[f]ile:///",
    re.IGNORECASE,
)


def _files(folder: Path) -> Iterator[Path]:
    """Every file of the project: not what was made, not hidden folders of tools."""
    for path in sorted(folder.iterdir()):
        if path.name in MADE or path.name.endswith(".egg-info"):
            continue
        if path.name.startswith(".") and path.name not in KEPT_HIDDEN:
            continue
        if path.is_dir():
            yield from _files(path)
        else:
            yield path


def _functions(tree: ast.AST) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def _body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines from `def` to the end, without the docstring."""
    end = function.end_lineno or function.lineno
    lines = end - function.lineno + 1
    first = function.body[0]
    if (
        isinstance(first, ast.Expr)
        and isinstance(first.value, ast.Constant)
        and isinstance(first.value.value, str)
    ):
        lines -= (first.end_lineno or first.lineno) - first.lineno + 1
    return lines


def test_no_python_file_outgrows_500_lines() -> None:
    long = {
        str(path.relative_to(ROOT)): lines
        for path in _files(ROOT)
        if path.suffix == ".py" and (lines := len(path.read_text().splitlines())) > 500
    }
    assert long == {}


def test_no_function_outgrows_60_lines() -> None:
    long = {
        f"{path.relative_to(ROOT)}:{function.lineno} {function.name}": lines
        for path in SOURCES.rglob("*.py")
        for function in _functions(ast.parse(path.read_text()))
        if (lines := _body_lines(function)) > 60
    }
    assert long == {}


def test_no_file_names_a_registry_or_a_place_on_one_machine() -> None:
    found = [
        f"{path.relative_to(ROOT)}: {match[0]}"
        for path in _files(ROOT)
        if path.suffix in TEXT_ENDINGS and path != Path(__file__)
        for match in ADDRESSES.finditer(path.read_text(errors="ignore"))
    ]
    assert found == []


@pytest.mark.parametrize(
    "text",
    [
        "see /" + "work/x",
        "a=/" + "root/y",
        "file:" + "///tmp",
        "(/" + "home/me)",
        "https://PyPI" + ".org/simple",
    ],
)
def test_the_pattern_of_addresses_finds_them(text: str) -> None:
    assert ADDRESSES.search(text)


@pytest.mark.parametrize(
    "text", ["docs/" + "work/plan", "network/", "../shared/" + "root/", "the home/away rule"]
)
def test_the_pattern_of_addresses_leaves_relative_paths_alone(text: str) -> None:
    assert not ADDRESSES.search(text)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_in_the_table_exists(name: str) -> None:
    module, summary = COMMANDS[name]
    assert module == f"pacewright.cli.{name}"
    assert isinstance(importlib.import_module(module).command, typer.Typer)
    assert summary.endswith(".")


def test_every_module_says_what_it_is_for() -> None:
    silent = [
        str(path.relative_to(ROOT))
        for path in SOURCES.rglob("*.py")
        if not ast.get_docstring(ast.parse(path.read_text()))
    ]
    assert silent == []


def test_every_public_function_and_class_says_what_it_does() -> None:
    silent = [
        f"{path.relative_to(ROOT)}:{node.lineno} {node.name}"
        for path in SOURCES.rglob("*.py")
        for node in ast.parse(path.read_text()).body
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)
        and not node.name.startswith("_")
        and not ast.get_docstring(node)
    ]
    assert silent == []
