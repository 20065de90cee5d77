"""NOTICE, the locks and the project file name the same packages, and nothing is bundled in silence."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
NOTICE = (ROOT / "NOTICE").read_text()
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())
PIN = re.compile(r"^([a-z0-9-]+)==(\S+)", re.MULTILINE)
PACKAGES = NOTICE.partition("Some of their ready-built files")[0]
LICENSED = dict(re.findall(r"^  ([a-z0-9-]+) {2,}(\S.*)$", PACKAGES, re.MULTILINE))
FORBIDDEN = re.compile(r"\b(AGPL|GPL)-?\d", re.IGNORECASE)


def _pins(name: str) -> dict[str, set[str]]:
    pins: dict[str, set[str]] = {}
    for package, version in PIN.findall((ROOT / name).read_text()):
        pins.setdefault(package, set()).add(version)
    return pins


def _names(requirements: list[str]) -> set[str]:
    return {re.split(r"[<>=!~; \[]", text)[0].lower().replace("_", "-") for text in requirements}


def _imports(tree: ast.AST) -> Iterator[str]:
    """Top-level names of the packages that a module imports, wherever it does so."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name.partition(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield node.module.partition(".")[0]


def test_notice_names_every_package_that_running_needs_and_no_other() -> None:
    assert set(LICENSED) == set(_pins("requirements.lock"))


def test_the_licence_in_notice_is_the_one_that_the_package_states() -> None:
    installed = {dist.name.lower().replace("_", "-"): dist.metadata for dist in metadata.distributions()}
    stated = {
        package: licence
        for package in LICENSED
        if package in installed and (licence := installed[package].get("License-Expression"))
    }
    assert len(stated) > 10
    assert {p: s for p, s in stated.items() if not LICENSED[p].startswith(s)} == {}


def test_nothing_that_running_needs_is_under_a_licence_that_spreads() -> None:
    assert {package: text for package, text in LICENSED.items() if FORBIDDEN.search(text)} == {}


def test_the_project_file_asks_for_what_the_sources_import_and_for_no_more() -> None:
    package_of = metadata.packages_distributions()
    imported = {
        package.lower().replace("_", "-")
        for path in (ROOT / "src").rglob("*.py")
        for module in _imports(ast.parse(path.read_text()))
        if module not in sys.stdlib_module_names and module != "pacewright"
        for package in package_of[module]
    }
    assert imported == _names(PROJECT["project"]["dependencies"])


def test_the_locks_hold_what_the_project_file_asks_for_and_agree() -> None:
    running, developing = _pins("requirements.lock"), _pins("requirements-dev.lock")
    assert _names(PROJECT["project"]["dependencies"]) <= set(running)
    groups = PROJECT["dependency-groups"]
    asked = [text for group in groups.values() for text in group if isinstance(text, str)]
    assert _names(asked) <= set(developing)
    assert running.items() <= developing.items()


@pytest.mark.parametrize("lock", ["requirements.lock", "requirements-dev.lock"])
def test_a_lock_pins_hashes_and_names_no_address(lock: str) -> None:
    text = (ROOT / lock).read_text()
    blocks = re.split(r"\n(?=[a-z0-9])", text.strip())
    assert len(blocks) > 20
    for block in blocks:
        assert PIN.match(block), block[:80]
        assert "--hash=sha256:" in block, block[:80]
    assert not re.search(r"://|--(extra-)?index|--find-links|^-e|@ ", text, re.MULTILINE)


def test_every_file_that_the_package_needs_is_packed_with_it() -> None:
    patterns = PROJECT["tool"]["setuptools"]["package-data"]["pacewright"]
    packed = {Path(pattern).suffix or Path(pattern).name for pattern in patterns}
    package = ROOT / "src" / "pacewright"
    missing = [
        str(path.relative_to(package))
        for path in package.rglob("*")
        if path.is_file() and path.suffix not in {".py", ".pyc"} and path.suffix not in packed
    ]
    assert missing == []


def test_every_folder_of_bundled_files_with_a_licence_of_its_own_is_in_notice() -> None:
    folders = {path.parent.relative_to(ROOT) for path in ROOT.glob("[!.]*/**/LICENSE*")}
    folders = {
        folder for folder in folders if folder.parts[0] in {"src", "examples", "tests", "validation", "docs"}
    }
    assert folders, "the fonts of the report bring a licence"
    assert [str(folder) for folder in folders if str(folder) not in NOTICE] == []
