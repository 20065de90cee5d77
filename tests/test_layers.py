"""The import rule: layers point downward only, siblings never import each other (see pyproject.toml)."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).parent.parent
LINT = "from importlinter.cli import lint_imports; import sys; sys.exit(lint_imports({options}))"


def _lint(folder: Path, options: str) -> subprocess.CompletedProcess[str]:
    script = LINT.format(options=options)
    return subprocess.run(
        [sys.executable, "-c", script], cwd=folder, capture_output=True, text=True, check=False
    )


def test_every_import_points_downward() -> None:
    done = _lint(ROOT, "no_cache=True")
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_rule_catches_a_sibling_import(tmp_path: Path) -> None:
    """The same contract over a small package in which one sibling imports another must fail."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    layers = next(c["layers"] for c in contracts if c["type"] == "layers")
    rooms = [room.strip() for layer in layers for room in layer.split("|")]
    for room in rooms:
        package = tmp_path / "pacewright" / room
        package.mkdir(parents=True)
        (package / "__init__.py").write_text("")
    (tmp_path / "pacewright" / "__init__.py").write_text("")
    settings = (
        "[importlinter]\nroot_package = pacewright\n[importlinter:contract:1]\nname = layers\ntype = layers\n"
        "containers = pacewright\nlayers =\n" + "".join(f"    {layer}\n" for layer in layers)
    )
    (tmp_path / ".importlinter").write_text(settings)
    assert _lint(tmp_path, "no_cache=True").returncode == 0
    (tmp_path / "pacewright" / "stroke" / "__init__.py").write_text("import pacewright.ball\n")
    broken = _lint(tmp_path, "no_cache=True")
    assert broken.returncode == 1, broken.stdout + broken.stderr
    assert "pacewright.stroke is not allowed to import pacewright.ball" in broken.stdout
