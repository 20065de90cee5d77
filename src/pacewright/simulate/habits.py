"""Players with known habits: strokes whose tempo, acceleration and evenness are given, measured with noise.

For the tests and the validation of findings and of a player's own constant. The noise is that of a 240 Hz
recording; what the tool measures of such strokes is validated apart (docs/validation-strokes.md).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pacewright.core.measure import Measure
from pacewright.core.stroke import Stroke

NOISE = {
    "backswing_time_s": 0.006,
    "downswing_time_s": 0.0034,
    "time_ratio": 0.03,
    "backswing_length_m": 0.001,
    "length_ratio": 0.012,
    "impact_acceleration_index": 0.09,
    "collision_speed_kept": 0.012,
}
"""Rms errors of one stroke at 240 Hz and 0.15 mm (docs/validation-strokes.md), rounded."""
SPEED_NOISE = 0.0075


@dataclass(frozen=True, slots=True)
class Habits:
    """A player's means, and the relative spread of each from putt to putt.

    Lengths are those of a 3 m putt; backswing length goes with asked^``length_exponent``, times with
    asked^``time_exponent``. ``downswing_power``: the downswing leaves the top like time to that power.
    ``correlation`` couples length and downswing time from putt to putt.
    """

    backswing_time_s: float = 0.66
    downswing_time_s: float = 0.32
    backswing_length_m: float = 0.26
    acceleration_index: float = 0.0
    length_ratio: float = 0.85
    downswing_power: float = 2.15
    length_spread: float = 0.02
    time_spread: float = 0.02
    length_exponent: float = 0.5
    time_exponent: float = 0.0
    correlation: float = 0.0


def strokes_of(
    habits: Habits, rng: np.random.Generator, asked_m: Sequence[float | None], *, first: int = 0
) -> list[Stroke]:
    """A putt for each length asked; None stands for 3 m that nobody noted."""
    return [_stroke(habits, rng, asked, first + k) for k, asked in enumerate(asked_m)]


def _stroke(habits: Habits, rng: np.random.Generator, asked: float | None, index: int) -> Stroke:
    relative = (asked or 3.0) / 3.0
    one, other = rng.normal(size=2)
    other = habits.correlation * one + math.sqrt(1.0 - habits.correlation**2) * other
    pace = relative**habits.time_exponent
    down = habits.downswing_time_s * pace * math.exp(habits.time_spread * other)
    back = habits.backswing_time_s * pace * math.exp(habits.time_spread * rng.normal())
    length = habits.backswing_length_m * relative**habits.length_exponent
    length *= math.exp(habits.length_spread * one)
    # The downswing of `stroke_model` with power r and index i: v·T/B = r·(r+1)/(2r − i), a·T/v = i.
    power, acceleration_index = habits.downswing_power, habits.acceleration_index
    truth = {
        "backswing_time_s": back,
        "downswing_time_s": down,
        "time_ratio": back / down,
        "backswing_length_m": length,
        "length_ratio": habits.length_ratio * math.exp(0.04 * rng.normal()),
        "impact_speed_m_s": power * (power + 1.0) / (2.0 * power - acceleration_index) * length / down,
        "impact_acceleration_index": acceleration_index,
        "collision_speed_kept": 0.79,
    }
    noise = NOISE | {"impact_speed_m_s": SPEED_NOISE * truth["impact_speed_m_s"]}
    measures = {name: Measure(truth[name] + rng.normal(0.0, sd), sd) for name, sd in noise.items()}
    return Stroke("putt", {}, measures, index=index, asked_length_m=asked)
