"""`pacewright roll` and `pacewright green`: the words that are fixed, and what cannot be."""

from __future__ import annotations

import json
from typing import Any

import pytest

from pacewright.cli.main import run

ROLL_NAMES = [
    "launch_speed_m_s", "roll_out_m", "across_m", "time_s", "skid_length_m", "skid_time_s",
    "deceleration_m_s2",
]  # fmt: skip


def _json(capsys: pytest.CaptureFixture[str], line: str) -> dict[str, Any]:
    assert run([*line.split(), "--json"]) == 0
    shown = capsys.readouterr()
    assert shown.err == ""
    parsed: dict[str, Any] = json.loads(shown.out)
    return parsed


def test_roll_out_of_a_launch_speed(capsys: pytest.CaptureFixture[str]) -> None:
    """Derived values at 10 ft: 2.386 m/s rolls 3 m with a skid at μ 0.4."""
    putt = _json(capsys, "roll --launch-speed 2.386m/s --green 10ft")
    assert list(putt)[:7] == ROLL_NAMES
    assert all(isinstance(putt[name], float) for name in ROLL_NAMES)
    assert putt["roll_out_m"] == pytest.approx(3.0, rel=0.005)
    assert putt["deceleration_m_s2"] == pytest.approx(0.549, rel=0.005)
    assert putt["across_m"] == 0.0
    assert putt["hole_speed_m_s"] is None
    assert putt["holed"] is None


@pytest.mark.parametrize(
    ("options", "speed"),
    [
        ("--length 3m", 2.386),
        ("--length 3m --no-skid", 1.816),
        ("--length 3m --skid-friction 0.4", 2.386),
        ("--length 9ft10.11in", 2.386),
        ("--length 2.6m --beyond 0.4m", 2.386),
    ],
)
def test_launch_speed_for_a_length(capsys: pytest.CaptureFixture[str], options: str, speed: float) -> None:
    putt = _json(capsys, f"roll {options} --green 10ft")
    assert putt["launch_speed_m_s"] == pytest.approx(speed, rel=0.005)
    assert putt["roll_out_m"] == pytest.approx(3.0, rel=1e-4)
    assert putt["holed"] is True


def test_a_skid_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    putt = _json(capsys, "roll --launch-speed 2m/s --green 10ft")
    assert putt["skid_length_m"] == pytest.approx(0.2496, rel=0.01)  # derived
    assert putt["skid_time_s"] == pytest.approx(0.1456, rel=0.01)  # derived
    rolled = _json(capsys, "roll --launch-speed 2m/s --green 10ft --no-skid")
    assert (rolled["skid_length_m"], rolled["skid_time_s"]) == (0.0, 0.0)


def test_break(capsys: pytest.CaptureFixture[str]) -> None:
    """Derived: at the speed for 3 m on the level, 2 % across: 3.050 m along, 0.409 m across, 3.53 s."""
    putt = _json(capsys, "roll --launch-speed 1.8155m/s --green 10ft --cross-slope 2% --no-skid")
    assert putt["roll_out_m"] == pytest.approx(3.050, rel=0.01)
    assert putt["across_m"] == pytest.approx(0.409, rel=0.01)
    assert putt["time_s"] == pytest.approx(3.53, rel=0.01)
    other = _json(capsys, "roll --launch-speed 1.8155m/s --green 10ft --cross-slope -2% --no-skid")
    assert other["across_m"] == -putt["across_m"]
    missed = _json(capsys, "roll --length 3m --green 10ft --cross-slope 2%")
    assert (missed["hole_speed_m_s"], missed["holed"]) == (None, False)


@pytest.mark.parametrize("written", ["--slope -2%", "--slope=-2%", "--slope -1.1458deg"])
def test_downhill_may_be_written_with_a_minus(capsys: pytest.CaptureFixture[str], written: str) -> None:
    down = _json(capsys, f"roll --length 3m --green 10ft {written}")
    up = _json(capsys, "roll --length 3m --green 10ft --slope 2%")
    assert down["launch_speed_m_s"] < 2.386 < up["launch_speed_m_s"]
    assert down["deceleration_m_s2"] == pytest.approx(0.549 - 5 / 7 * 9.81 * 0.02, rel=0.005)


def test_roll_for_people(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["roll", "--length", "3m", "--beyond", "0.4m", "--green", "10ft"]) == 0
    shown = capsys.readouterr().out
    for part in ("2.54 m/s (8.34 ft/s)", "3.40 m (11.2 ft)", "0.549 m/s² (1.80 ft/s²)", "0.71 m/s", "drops"):
        assert part in shown
    line = "roll --length 10ft --cross-slope 2% --green 10ft --units imperial"
    assert run(line.split()) == 0
    shown = capsys.readouterr().out
    assert "10.0 ft (3.05 m)" in shown
    assert "passes it by" in shown
    assert "1.3 ft (0.40 m) to the left" in shown


def test_a_tap_in_shorter_than_the_hole_is_still_a_roll(capsys: pytest.CaptureFixture[str]) -> None:
    assert _json(capsys, "roll --length 3cm --green 10ft")["holed"] is None


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ("--green 10ft", "either --launch-speed or --length"),
        ("--length 3m --launch-speed 2m/s --green 10ft", "either --launch-speed or --length"),
        ("--launch-speed 2m/s --beyond 1m --green 10ft", "--beyond goes with --length"),
        ("--length 3m --no-skid --skid-friction 0.3 --green 10ft", "either --skid-friction or --no-skid"),
        ("--length 3m", "--green"),
        ("--length 0m --green 10ft", "A putt of 0 m"),
        ("--length -3m --green 10ft", "A putt of -3 m"),
        ("--length 1e400m --green 10ft", "not a finite length"),
        ("--length 1e9m --green 10ft", "A putt of 1e+09 m"),
        ("--length nan --green 10ft", "'nan'"),
        ("--length 3 --green 10ft", "'3' has no unit"),
        ("--length 3m --beyond -1m --green 10ft", "beyond the hole"),
        ("--launch-speed 0m/s --green 10ft", "launch speed of 0 m/s"),
        ("--launch-speed -2m/s --green 10ft", "launch speed of -2 m/s"),
        ("--launch-speed 2m --green 10ft", "'m' is not a unit of speed"),
        ("--launch-speed 99m/s --green 10ft", "launch speed of 99 m/s"),
        ("--length 3m --green 0ft", "green speed of 0 ft"),
        ("--length 3m --green 400ft", "green speed of 400 ft"),
        ("--length 3m --green -10ft", "green speed of -10 ft"),
        ("--length 3m --green 10ft --slope steep", "'steep' is not a slope"),
        ("--length 3m --green 10ft --slope 90%", "under 50 %"),
        ("--length 3m --green 10ft --skid-friction nan", "sliding friction of nan"),
        ("--length 3m --green 10ft --skid-friction 0", "sliding friction of 0"),
        ("--length 3m --green 10ft --units miles", "'miles' is not a system of units"),
        ("--length 3m --green 10ft --slope -9%", "never stops on this green: it falls 9.00 % (5.14°)"),
        ("--length 3m --green 10ft --slope 9%", "a ball stops below 7.84 % (4.48°) only"),
    ],
)
def test_rolls_that_cannot_be(capsys: pytest.CaptureFixture[str], options: str, told: str) -> None:
    assert run(["roll", *options.split(), "--json"]) == 2
    shown = capsys.readouterr()
    assert told in shown.err
    assert shown.err.count("\n") == 1
    assert shown.out == ""


def test_green_speed_of_a_pair(capsys: pytest.CaptureFixture[str]) -> None:
    """Woods, The Brede equation, 2021 (read): 185 cm and 981 cm give 311.3 cm, 10.2 ft."""
    measured = _json(capsys, "green --up 185cm --down 981cm")
    assert measured["green_speed_m"] == pytest.approx(3.113, rel=0.001)
    assert measured["green_speed_ft"] == pytest.approx(10.2, abs=0.05)
    assert measured["green_speed_sd_m"] is None
    assert [warning["code"] for warning in measured["warnings"]] == ["not-level", "slope-too-strong"]


def test_green_speed_of_several_rolls(capsys: pytest.CaptureFixture[str]) -> None:
    line = "green --up 9ft6in --up 9ft8in --up 9ft7in --down 10ft1in --down 10ft --down 10ft2in"
    measured = _json(capsys, line)
    assert measured["warnings"] == []
    assert 9.5 < measured["green_speed_ft"] < 10.1
    assert 0.0 < measured["green_speed_sd_m"] < 0.05
    assert run(line.split()) == 0
    assert "9.8 ft" in capsys.readouterr().out


def test_green_for_people(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["green", "--up", "185cm", "--down", "981cm"]) == 0
    shown = capsys.readouterr().out
    assert "3.11 m (10.2 ft)" in shown
    assert "Warning: The two directions differ by" in " ".join(shown.split())


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ("--up 185cm", "--down"),
        ("--down 185cm", "--up"),
        ("--up 0cm --down 3m", "A roll of 0 m up the slope"),
        ("--up 2m --down -3m", "A roll of -3 m down the slope"),
        ("--up 2m --down 300", "'300' has no unit"),
        ("--up 2m --down 1e5m", "outside 0.1 to 50 m"),
        ("--up 2kg --down 3m", "'kg' is not a unit of length"),
    ],
)
def test_greens_that_cannot_be(capsys: pytest.CaptureFixture[str], options: str, told: str) -> None:
    assert run(["green", *options.split(), "--json"]) == 2
    shown = capsys.readouterr()
    assert told in shown.err
    assert shown.err.count("\n") == 1
    assert shown.out == ""
