"""The commands compare, tempo and plan."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from icalendar import Calendar

from pacewright.cli.main import run


def _putts(
    path: Path, seed: int, putts: int, spread: float, columns: str = "", cells: Sequence[str] = ()
) -> Path:
    rng = np.random.default_rng(seed)
    rows = ["asked_m,finish_along_m" + columns]
    for k in range(putts):
        asked = (3.0, 6.0, 9.0)[k % 3]
        rows.append(f"{asked},{asked * np.exp(spread * rng.normal()):.3f}" + (cells[k] if cells else ""))
    path.write_text("\n".join(rows) + "\n")
    return path


def _json(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert run(arguments) == 0
    printed = json.loads(capsys.readouterr().out)
    assert isinstance(printed, dict)
    return printed


def test_compare_prints_the_fixed_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before, after = _putts(tmp_path / "b.csv", 1, 60, 0.12), _putts(tmp_path / "a.csv", 2, 60, 0.05)
    found = _json(capsys, "compare", str(before), str(after), "--json")
    assert found["verdict"] == "better"
    ratio = found["spread_ratio"]
    assert ratio["low"] < ratio["value"] < ratio["high"] < 1.0
    assert found["detectable_ratio"] == pytest.approx(1.29, abs=0.01)
    assert found["putts_to_settle"] == 0
    turned = _json(capsys, "compare", str(after), str(before), "--json")
    assert turned["verdict"] == "worse"


def test_compare_says_what_would_settle_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before, after = _putts(tmp_path / "b.csv", 3, 12, 0.1), _putts(tmp_path / "a.csv", 4, 12, 0.08)
    found = _json(capsys, "compare", str(before), str(after), "--json")
    assert found["verdict"] == "unclear"
    assert found["putts_to_settle"] > 12
    assert run(["compare", str(before), str(after)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "No clear change" in said
    assert "With 12 putts in each session" in said


def test_one_look_sees_smaller_changes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before, after = _putts(tmp_path / "b.csv", 5, 30, 0.1), _putts(tmp_path / "a.csv", 6, 30, 0.08)
    peeking = _json(capsys, "compare", str(before), str(after), "--json")
    planned = _json(capsys, "compare", str(before), str(after), "--one-look", "--json")
    assert planned["verdict_ratio"] < peeking["verdict_ratio"]
    assert planned["rule"] == "one look"


def test_compare_keeps_phases_apart(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = _putts(tmp_path / "b.csv", 7, 30, 0.1)
    cells = [",learning"] * 15 + [",retention"] * 15
    after = _putts(tmp_path / "a.csv", 8, 30, 0.1, ",phase", cells)
    found = _json(capsys, "compare", str(before), str(after), "--json")
    assert found["phase"] == "retention"
    assert set(found["phases"]) == {"learning"}
    assert found["after"]["putts"] == 15


def test_holed_putts_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = _putts(tmp_path / "b.csv", 9, 20, 0.1)
    after = tmp_path / "a.csv"
    after.write_text(
        before.read_text().replace("asked_m,finish_along_m", "asked_m,finish_along_m,holed") + "3.0,,1\n"
    )
    found = _json(capsys, "compare", str(before), str(after), "--json")
    assert found["after"]["holed_without_pace"] == 1
    assert found["notes"][0]["code"] == "holed-after"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("asked_m\n3\n", "finish_along_m"),
        ("asked_m,finish_along_m\n3,2.9\n3,3.1\n", "2 putts"),
        ("asked_m,finish_along_m\n3,x\n", "line 2"),
    ],
)
def test_compare_refuses_bad_tables(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, message: str
) -> None:
    good, bad = _putts(tmp_path / "b.csv", 1, 20, 0.1), tmp_path / "bad.csv"
    bad.write_text(text)
    assert run(["compare", str(good), str(bad)]) == 2
    shown = capsys.readouterr()
    assert message in shown.err
    assert shown.out == ""


def _blocks(path: Path, spreads: dict[int, float], putts: int, comfort: dict[int, int] | None = None) -> Path:
    rng = np.random.default_rng(11)
    rows = ["beats_per_minute,asked_m,finish_along_m" + (",comfort" if comfort else "")]
    for beat, spread in spreads.items():
        for _ in range(putts):
            mark = f",{comfort[beat]}" if comfort else ""
            rows.append(f"{beat},6,{6 * np.exp(spread * rng.normal()):.3f}{mark}")
    path.write_text("\n".join(rows) + "\n")
    return path


def test_tempo_prints_the_fixed_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table = _blocks(tmp_path / "t.csv", {80: 0.08, 90: 0.08, 100: 0.08}, 10, {80: 3, 90: 2, 100: 5})
    found = _json(capsys, "tempo", str(table), "--json")
    assert found["verdict"] == "cannot be told apart"
    assert found["by_comfort"] is True
    assert found["beats_per_minute"] == 100
    assert 0.0 <= found["probability_best"] <= 1.0
    assert 60 <= found["next_beats_per_minute"] <= 120
    assert run(["tempo", str(table)]) == 0
    assert "cannot be told apart" in " ".join(capsys.readouterr().out.split())


def test_tempo_settles_a_clear_case(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    spreads = {74: 0.12, 78: 0.10, 82: 0.08, 86: 0.08, 90: 0.10, 94: 0.13, 98: 0.19}
    found = _json(capsys, "tempo", str(_blocks(tmp_path / "t.csv", spreads, 150)), "--json")
    assert found["verdict"] == "settled"
    assert found["beats_per_minute"] == pytest.approx(83, abs=4)


def test_tempo_needs_its_column(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["tempo", str(_putts(tmp_path / "b.csv", 1, 20, 0.1))]) == 2
    assert "beats_per_minute" in capsys.readouterr().err


def test_plan_writes_page_pdf_and_calendar(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = [tmp_path / f"plan.{ending}" for ending in ("pdf", "html", "ics")]
    budget = tmp_path / "budget.json"
    shares = {
        "length": {"value": 0.6, "low": 0.5, "high": 0.7},
        "timing": {"value": 0.2, "low": 0.1, "high": 0.3},
    }
    budget.write_text(json.dumps({"shares": shares, "enough": True}))
    arguments = ["plan", "--start", "2026-03-02", "--days", "mon,thu", "--weeks", "2", "--beats", "84"]
    arguments += ["--putt", "10ft", "--putt", "20ft", "--green", "10ft", "--budget", str(budget)]
    for path in files:
        arguments += ["--out", str(path)]
    found = _json(capsys, *arguments, "--json")
    assert found["focus"] == "length"
    assert found["beats_per_minute"] == 84
    assert [one["date"] for one in found["sessions"]] == [
        "2026-03-02",
        "2026-03-05",
        "2026-03-09",
        "2026-03-12",
    ]
    assert len(found["station"]["stations"]) == 2
    assert all(choice["source"] for choice in found["choices"])
    assert files[0].read_bytes().startswith(b"%PDF")
    assert "the length of the backswing" in files[1].read_text()
    assert len(Calendar.from_ical(files[2].read_bytes()).walk("VEVENT")) == 4


def test_plan_takes_the_beat_that_was_found(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tempo = tmp_path / "tempo.json"
    tempo.write_text(json.dumps({"beats_per_minute": 82.0, "verdict": "settled"}))
    found = _json(capsys, "plan", "--start", "2026-03-02", "--tempo", str(tempo), "--json")
    assert found["beats_per_minute"] == 82
    (beat,) = (choice for choice in found["choices"] if choice["topic"] == "Beat")
    assert "this player's own putts" in beat["reason"]


def test_plan_reads_what_budget_prints(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The two commands fit together: what one prints the other takes."""
    rng = np.random.default_rng(3)
    rows = ["asked_m,finish_along_m,backswing_length_m,downswing_time_s,impact_speed_m_s,ball_speed_m_s"]
    for k in range(40):
        asked = (3.0, 6.0, 9.0)[k % 3]
        back, down = 0.15 * asked**0.5 * np.exp(0.06 * rng.normal()), 0.3 * np.exp(0.01 * rng.normal())
        speed = 1.57 * back / down * np.exp(0.01 * rng.normal())
        ball = 1.6 * speed * np.exp(0.005 * rng.normal())
        rows.append(f"{asked},{ball**2 * 0.8:.3f},{back:.4f},{down:.4f},{speed:.4f},{ball:.4f}")
    table, budget = tmp_path / "putts.csv", tmp_path / "budget.json"
    table.write_text("\n".join(rows) + "\n")
    budget.write_text(json.dumps(_json(capsys, "budget", str(table), "--json")))
    found = _json(capsys, "plan", "--start", "2026-03-02", "--budget", str(budget), "--json")
    assert found["focus"] in {"length", None}


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--out", "plan.doc"], "must end in .pdf, .html or .ics"),
        (["--out", "nowhere/plan.pdf"], "no folder"),
        (["--days", "none", "--sessions", "4", "--out", "plan.ics"], "needs days"),
        (["--days", "none"], "Name the days"),
        (["--days", "foo"], "not a day of the week"),
        (["--start", "soon"], "not a date"),
        (["--at", "late"], "not a time of day"),
        (["--sessions", "2"], "2 sessions"),
        (["--minutes", "5"], "minutes a day"),
        (["--budget", "missing.json"], "cannot be read"),
    ],
)
def test_plan_refuses_what_makes_no_sense_and_leaves_nothing(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    arguments: list[str],
    message: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["plan", *arguments]) == 2
    shown = capsys.readouterr()
    assert message in shown.err
    assert list(tmp_path.iterdir()) == []


def test_plan_prints_days_and_stop_rules(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", "--start", "2026-03-02", "--sessions", "4"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    for part in (
        "First test",
        "Mon 2 Mar",
        "Retention test",
        "Pain: stop at once",
        "No single cause stands out",
    ):
        assert part in said
