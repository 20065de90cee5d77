"""Green speed from rolls of the ramp."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.ball.stimp import brede_speed_m, measure_green, ramp_roll, ramp_rolls_m
from pacewright.core.errors import SettingsError
from pacewright.core.green import Green
from tests.ball.greens import LEVEL

speeds = st.floats(1.8, 4.3)


@given(speeds, st.floats(0.0, 0.9))
def test_a_pair_of_rolls_tells_the_level_speed_and_the_slope(speed: float, share: float) -> None:
    steep = share * 1.83**2 * 7 / (10 * 9.81 * speed)
    green = Green(speed, slope_rad=math.atan(steep))
    measured = measure_green(*([roll] for roll in ramp_rolls_m(green)))
    assert measured.speed_m == pytest.approx(speed / math.cos(green.slope_rad), rel=1e-9)
    assert measured.slope_rad == pytest.approx(green.slope_rad, rel=1e-9, abs=1e-12)


@given(st.floats(0.5, 10.0), st.floats(0.5, 10.0))
def test_the_corrected_speed_lies_between_the_rolls_and_below_their_mean(up: float, down: float) -> None:
    speed = brede_speed_m(up, down)
    assert min(up, down) * (1 - 1e-12) <= speed <= (up + down) / 2 * (1 + 1e-12)
    assert speed == pytest.approx(brede_speed_m(down, up))


def test_the_ramp_rolls_its_green_speed_on_the_level() -> None:
    roll = ramp_roll(LEVEL)
    assert roll.roll_out_m == pytest.approx(LEVEL.speed_m)
    assert roll.skid_length_m == 0.0
    assert ramp_roll(LEVEL, 2.0).roll_out_m == pytest.approx(LEVEL.speed_m * (2.0 / 1.83) ** 2)


def test_several_rolls_give_an_uncertainty_that_scatter_bears_out() -> None:
    rng = np.random.default_rng(4)
    sd, n = 0.05, 5
    trials = [measure_green(list(rng.normal(2.6, sd, n)), list(rng.normal(3.5, sd, n))) for _ in range(2000)]
    scatter = float(np.std([trial.speed_m for trial in trials]))
    stated = math.sqrt(np.mean([trial.sd_m**2 for trial in trials]))
    assert stated == pytest.approx(scatter, rel=0.06)


def test_one_roll_each_way_has_no_uncertainty() -> None:
    assert math.isnan(measure_green([2.9], [3.1]).sd_m)
    assert math.isnan(measure_green([2.9, 2.8], [3.1]).sd_m)


@pytest.mark.parametrize(
    ("up", "down", "codes"),
    [
        ([3.0], [3.1], []),
        ([2.9], [3.35], []),
        ([2.9], [3.36], ["not-level"]),  # 18 in are 45.72 cm
        ([1.85], [9.81], ["not-level", "slope-too-strong"]),
        ([3.1], [3.0], []),
        ([3.3], [3.0], ["swapped"]),
        ([3.0, 3.2], [3.1, 3.1], []),
        ([3.0, 3.21], [3.1, 3.1], ["rolls-apart"]),  # 8 in are 20.32 cm
        ([3.0, 3.0], [3.0, 3.3], ["rolls-apart"]),
    ],
)
def test_warnings(up: list[float], down: list[float], codes: list[str]) -> None:
    assert [warning.code for warning in measure_green(up, down).warnings] == codes


@pytest.mark.parametrize("roll", [0.0, -1.0, math.nan, math.inf, 60.0])
def test_what_is_no_roll_is_refused(roll: float) -> None:
    with pytest.raises(SettingsError, match="up the slope"):
        measure_green([3.0, roll], [3.0])
    with pytest.raises(SettingsError, match="down the slope"):
        measure_green([3.0], [roll])


def test_both_ways_are_needed() -> None:
    with pytest.raises(SettingsError, match="No roll down"):
        measure_green([3.0], [])


def test_a_difference_is_told_from_its_limit() -> None:
    told = measure_green([3.0], [3.46]).warnings[0].text
    assert "differ by 46.0 cm (18.1 in), more than 18 in (45.7 cm)" in told
