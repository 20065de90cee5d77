"""`report`, `strip` and `beats` as they are typed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pypdfium2
import pytest
import soundfile

from pacewright.cli.main import run
from pacewright.coaching.terms import QUANTITIES
from pacewright.simulate.players import SimulatedPlayer, simulate_mixed

ROOT = Path(__file__).parent.parent.parent
RECORDING = ROOT / "examples" / "hasty-10ft.csv"


def pdf_text(path: Path) -> str:
    document = pypdfium2.PdfDocument(path)
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


def test_beats(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "beats.flac"
    options = ["--beats", "120", "--repeats", "2", "--rest", "1", "--count-in", "0", "--rate", "44100"]
    assert run(["beats", str(out), *options]) == 0
    assert "2 strokes at 120 beats a minute, 8 beats in 4.0 s" in capsys.readouterr().out
    info = soundfile.info(out)
    assert (info.samplerate, info.channels, info.frames) == (44100, 1, 4 * 44100)


def test_strip(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "strip.pdf"
    putts = ["--putt", "3ft", "--putt", "10ft", "--green", "10ft", "--beats", "84"]
    assert run(["strip", str(out), *putts, "--paper", "letter", "--units", "imperial"]) == 0
    printed = capsys.readouterr().out
    assert "3 ft (0.91 m): back" in printed
    text = pdf_text(out)
    assert "back 10 ft" in text
    assert "84 beats a minute, green 10 ft (3.05 m), level" in text


@pytest.mark.parametrize("name", ["report.pdf", "report.html"])
def test_report(tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str) -> None:
    out = tmp_path / name
    about = ["--player", "Ines Marchbank", "--date", "2025-05-17", "--green", "10ft", "--putt", "3ft"]
    assert run(["report", str(RECORDING), "--out", str(out), *about]) == 0
    assert "10 strokes" in capsys.readouterr().out
    text = pdf_text(out) if name.endswith("pdf") else out.read_text("utf-8")
    for expected in ("Ines Marchbank", "17 May 2025", "hasty-10ft.csv", "Practice station", "0.91 m (3 ft)"):
        assert expected in text
    assert str(ROOT) not in text


def test_a_report_says_which_recording_held_no_stroke(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    still = tmp_path / "still.csv"
    still.write_text("time_s,head_x_m\n" + "".join(f"{k / 240:.5f},0.0\n" for k in range(720)))
    assert run(["report", str(RECORDING), str(still), "--out", str(tmp_path / "r.html")]) == 0
    assert "note: still.csv: No putting stroke was found" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["beats", "OUT/b.mp3"], ".wav or .flac"),
        (["beats", "OUT/b.wav", "--beats", "7"], "outside 30 to 200"),
        (["strip", "OUT/s.pdf", "--putt", "10ft", "--green", "10ft", "--paper", "a5"], "a4 or letter"),
        (["strip", "OUT/s.pdf", "--putt", "10", "--green", "10ft"], "has no unit"),
        (["report", "OUT/none.csv", "--out", "OUT/r.pdf"], "none.csv"),
        (["report", str(RECORDING), "--out", "OUT/r.txt"], ".pdf or .html"),
        (["report", str(RECORDING), "--out", "OUT/no/such/r.pdf"], "cannot be written"),
    ],
)
def test_mistakes_leave_one_line_and_no_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], message: str
) -> None:
    assert run([argument.replace("OUT", str(tmp_path)) for argument in arguments]) == 2
    shown = capsys.readouterr()
    assert message in shown.err
    assert shown.err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def _putts(path: Path, seed: int, spread: float, *, beats: bool = False) -> str:
    """A table of 60 putts with all that a stroke has, at one beat after the other."""
    rng = np.random.default_rng(seed)
    player = SimulatedPlayer(timing_sd=spread)
    rows = ["asked_m,finish_along_m,backswing_length_m,downswing_time_s,impact_speed_m_s,ball_speed_m_s"]
    rows[0] += ",beats_per_minute"
    for k, putt in enumerate(simulate_mixed(player, rng, 60)):
        figures = [putt.asked_m, putt.outcome.along_m, *(putt.value(name) for name in QUANTITIES)]
        beat = (80, 90, 100)[k // 20] if beats else ""
        rows.append(",".join(f"{figure:.5g}" for figure in figures if figure is not None) + f",{beat}")
    path.write_text("\n".join(rows) + "\n")
    return str(path)


def test_a_report_answers_what_putts_tell(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    putts, before = _putts(tmp_path / "now.csv", 1, 0.03), _putts(tmp_path / "then.csv", 2, 0.25)
    blocks, out = _putts(tmp_path / "blocks.csv", 3, 0.05, beats=True), tmp_path / "r.html"
    tables = ["--putts", putts, "--before", before, "--blocks", blocks]
    assert run(["report", str(RECORDING), *tables, "--out", str(out)]) == 0
    said = capsys.readouterr().out
    for words in ("Better: the distances spread less", "The distance varies by", "beats"):
        assert words in said
    page = out.read_text()
    for words in ("Why the distance varies", "Whether practice worked", "Which beat", "now.csv (60 putts)"):
        assert words in page


def test_putts_alone_make_a_report(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "r.pdf"
    assert run(["report", "--putts", _putts(tmp_path / "now.csv", 1, 0.05), "--out", str(out)]) == 0
    assert "no strokes" in capsys.readouterr().out
    assert "Why the distance varies" in pdf_text(out)
    assert "Stroke by stroke" not in pdf_text(out)


def test_a_report_needs_something_and_a_table_before_needs_one_after(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["report", "--out", str(tmp_path / "r.pdf")]) == 2
    assert "nothing to report" in capsys.readouterr().err
    before = _putts(tmp_path / "then.csv", 2, 0.05)
    assert run(["report", "--before", before, "--out", str(tmp_path / "r.pdf")]) == 2
    assert "--putts" in capsys.readouterr().err
    assert list(tmp_path.glob("r.*")) == []
