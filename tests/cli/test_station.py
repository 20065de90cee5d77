"""`pacewright station`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pacewright.app.assessment import assess_recording, assessment_dict
from pacewright.cli.main import run
from pacewright.core.units import FOOT_M
from pacewright.simulate.sampling import record_trajectory
from pacewright.simulate.stroke_model import StrokeModel

FIXED = {
    "putt_length_m", "launch_speed_m_s", "head_speed_m_s", "back_marker_m", "through_marker_m",
    "back_marker_band_m", "beat_interval_s", "time_ratio", "impact_acceleration_m_s2", "warnings",
}  # fmt: skip
TWO_PUTTS = ["--putt", "3ft", "--putt", "30ft", "--green", "10ft", "--beats", "90"]


def _station(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert run(["station", *arguments, "--json"]) == 0
    printed: dict[str, Any] = json.loads(capsys.readouterr().out)
    return printed


@pytest.fixture
def strokes_file(tmp_path: Path) -> Path:
    models = [StrokeModel(backswing_length_m=0.2, downswing_power=2.4) for _ in range(3)]
    recording = record_trajectory(models, np.random.default_rng(1)).recording
    path = tmp_path / "strokes.json"
    path.write_text(json.dumps([assessment_dict(assess_recording(recording))]))
    return path


def test_the_fixed_words(capsys: pytest.CaptureFixture[str]) -> None:
    printed = _station(capsys, *TWO_PUTTS)
    short, long = printed["stations"]
    assert set(short) >= FIXED
    assert [one["putt_length_m"] for one in (short, long)] == pytest.approx([3 * FOOT_M, 30 * FOOT_M])
    assert short["beat_interval_s"] == pytest.approx(60 / 90)
    assert short["warnings"] == long["warnings"] == []
    assert short["back_marker_m"] < long["back_marker_m"]


def test_the_players_strokes_change_the_constant(
    strokes_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    textbook = _station(capsys, *TWO_PUTTS)
    own = _station(capsys, *TWO_PUTTS, "--stroke", str(strokes_file))
    assert own["constant_source"] == "this player's own, from 3 strokes"
    assert own["swing_constant"]["value"] > textbook["swing_constant"]["value"]
    assert own["swing_constant"]["sd"] < textbook["swing_constant"]["sd"]


def test_options_turn_the_right_way(capsys: pytest.CaptureFixture[str]) -> None:
    def marker(*more: str) -> float:
        return float(
            _station(capsys, "--putt", "10ft", "--green", "10ft", *more)["stations"][0]["back_marker_m"]
        )

    plain = marker()
    assert marker("--slope", "2%") > plain > marker("--slope", "-2%")
    assert marker("--beyond", "40cm") > plain
    assert marker("--beats", "100") < plain
    assert marker("--head-mass", "500g") < plain < marker("--restitution", "0.7")
    narrow, wide = (
        _station(capsys, "--putt", "10ft", "--green", "10ft", "--tolerance", share)["stations"][0]
        for share in ("5%", "20%")
    )
    assert narrow["back_marker_band_m"][0] > wide["back_marker_band_m"][0]


def test_people_read_markers_beats_and_warnings(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["station", *TWO_PUTTS, "--putt", "60ft", "--units", "imperial"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "3 ft (0.91 m)" in shown
    assert "90 beats a minute: start moving on 1, back marker on 2, through marker on 3." in shown
    assert "60 ft (18.29 m): At 90 beats a minute this putt asks for a backswing of" in shown
    assert "the textbook's, for equal markers" in shown


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--green", "10ft"], "--putt"),
        (["--putt", "3", "--green", "10ft"], "has no unit"),
        (["--putt", "3ft", "--green", "10ft", "--beats", "1000"], "A beat of 1000 a minute"),
        (["--putt", "3ft", "--green", "10ft", "--tolerance", "10"], "'10' is not a share; give it as 10%"),
        (["--putt", "3ft", "--green", "10ft", "--tolerance", "120%"], "outside 0 to 100 %"),
        (["--putt", "3ft", "--green", "10ft", "--stroke", "no.json"], "'no.json' cannot be read"),
        (["--putt", "3ft", "--green", "10ft", "--units", "yards"], "not a system of units"),
        (["--putt", "3ft", "--green", "10ft", "--slope", "-9%"], "never"),
    ],
)
def test_what_makes_no_sense_is_one_message(
    arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["station", *arguments]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert says in shown.err
    assert len(shown.err.splitlines()) == 1
