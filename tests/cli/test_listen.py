"""`pacewright listen`: the words that are fixed, for people and for programs."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pacewright.cli.main import run

METRONOME = Path(__file__).parent.parent / "data" / "metronome" / "m184b.flac"


def test_json_and_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["listen", str(METRONOME), "--beats", "184", "--json"]) == 0
    body = json.loads(capsys.readouterr().out)
    assert (body["schema"], body["contacts"], len(body["beats"])) == ("pacewright.listen/1", [], 24)
    assert run(["listen", str(METRONOME)]) == 0
    shown = capsys.readouterr().out
    assert "24 regular clicks, 184.0 a minute" in shown
    assert "No contact was heard." in shown


def test_errors_are_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "x.wav").write_bytes(b"RIFF")
    for line in (
        [str(tmp_path / "x.wav")],
        [str(METRONOME), "--beats", "900"],
        [str(METRONOME), "--back-marker", "3"],
    ):
        assert run(["listen", *line]) == 2
        shown = capsys.readouterr()
        assert shown.out == ""
        assert shown.err.count("\n") == 1
