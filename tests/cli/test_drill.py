"""The command drill."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from pacewright.cli.main import run


def _go(path: Path, seed: int, spread: float = 0.1) -> str:
    rng = np.random.default_rng(seed)
    rows = ["asked_ft,finish_along_ft,backswing_time_s,downswing_time_s,beats_per_minute"]
    rows += [f"20,{20 * np.exp(spread * rng.normal()):.2f},0.66,0.33,90" for _ in range(20)]
    path.write_text("\n".join(rows) + "\n")
    return str(path)


def test_a_go_is_scored_in_words_and_figures(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    go = _go(tmp_path / "lag.csv", 1)
    assert run(["drill", go, "--json", "--date", "2026-03-02"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == "pacewright.drill/1"
    assert (found["drill"], found["date"], found["putts"]) == ("lag", "2026-03-02", 20)
    assert found["lengths_m"] == pytest.approx([6.096])
    for name in ("inside_share", "spread_share"):
        assert found[name]["low"] < found[name]["value"] < found[name]["high"]
    assert found["timing"]["on_beat_share"]["value"] == 1.0
    assert found["history"] is None
    assert run(["drill", go, "--units", "imperial"]) == 0
    said = capsys.readouterr().out
    assert "20 putts" in said
    assert "20 ft (6.1 m)" in said


def test_earlier_goes_make_a_history(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Goes that get steadier by a quarter each time: in the order given, the trend falls."""
    goes = [_go(tmp_path / f"go{k}.csv", k, 0.2 * 0.75**k) for k in range(6)]
    earlier = [word for go in goes[:-1] for word in ("--history", go)]
    assert run(["drill", goes[-1], *earlier, "--json"]) == 0
    history = json.loads(capsys.readouterr().out)["history"]
    assert len(history["goes"]) == 6
    assert history["trend_share_a_go"]["high"] < 0.0
    assert history["trend_share_a_go"]["value"] == pytest.approx(-0.25, abs=0.08)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("asked_m,finish_along_m\n6,6.1\n", "There is 1 putt; a score needs 2"),
        ("asked_m,finish_along_m,holed\n6,,1\n6,,1\n", "Every putt was holed"),
        ("asked_m\n6\n", "finish_along_m"),
        ("", "no table of putts"),
    ],
)
def test_what_cannot_be_scored_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, message: str
) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text(text)
    assert run(["drill", str(bad)]) == 2
    shown = capsys.readouterr()
    assert message in shown.err
    assert shown.out == ""
