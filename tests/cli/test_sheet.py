"""`pacewright sheet`."""

from __future__ import annotations

from pathlib import Path

import pytest

from pacewright.cli.main import run


def test_the_sheet_is_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "sheet.pdf"
    assert run(["sheet", str(out), "--paper", "letter"]) == 0
    assert out.read_bytes().startswith(b"%PDF")
    assert "100 %" in capsys.readouterr().out
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.pdf"]


@pytest.mark.parametrize("arguments", [["sheet.png"], ["sheet.pdf", "--paper", "a3"]])
def test_what_cannot_be_printed_is_refused(
    arguments: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["sheet", str(tmp_path / arguments[0]), *arguments[1:]]) == 2
    assert capsys.readouterr().err.startswith("pacewright: ")
    assert list(tmp_path.iterdir()) == []
