"""A simulated tour player on a level green, putting until the ball is in, against counts of real ones.

The player is that of `coaching.on_the_green`, here on the simulated green: the line is missed by 1.02° and
the length by 8 % (standard deviations). Both belong to the rule by which they were fitted (Gelman's case
study of Broadie's counts, 2019): a putt drops when its line brings the whole ball over the hole and it would
have come to rest 0 to 3 ft past. The player aims past the hole. By how much is the strategy:

- `one_foot_past`: 1 ft whatever the length, as in the case study;
- `long_putts_firmly`: 1 ft up to 20 ft, and 5 % of the length beyond. 1 ft at 20 ft leaves 28 % of the putts
  short; the 5 % keeps that share about the same on longer ones. The 5 % was chosen with the table in view.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from pacewright.ball.hole import CaptureModel
from pacewright.ball.many import roll_many
from pacewright.ball.solve import launch_speeds
from pacewright.coaching.on_the_green import AIM_PAST_M, CAPTURED_PAST_M, TOUR_PLAYER
from pacewright.core.equipment import BALL_RADIUS_M, HOLE_RADIUS_M
from pacewright.core.green import Green
from pacewright.core.recording import FloatArray
from pacewright.core.units import FOOT_M

LEVEL = Green(10 * FOOT_M)
WINDOW_M = CAPTURED_PAST_M
MOST_PUTTS = 12
Strategy = Callable[[FloatArray], FloatArray]
"""Length of putt to distance aimed past the hole, in metres."""

HOLED_PERCENT = {7.95: 49.9, 20.44: 14.4}
"""Tour counts by length in feet (Broadie, published with Gelman's case study; read)."""
EXPECTED_PUTTS = {8.0: 1.515, 20.0: 1.878, 40.0: 2.055, 60.0: 2.218}
"""Per-foot table after Broadie, by length in feet (second-hand)."""


@dataclass(frozen=True)
class TourPlayer:
    """Standard deviations of line and length, and the strategy."""

    strategy: Strategy
    angle_sd_rad: float = TOUR_PLAYER.line_sd_rad
    distance_sd: float = TOUR_PLAYER.log_spread


def one_foot_past(length_m: FloatArray) -> FloatArray:
    """Aim 1 ft past the hole."""
    return np.full_like(length_m, AIM_PAST_M)


def long_putts_firmly(length_m: FloatArray) -> FloatArray:
    """Aim 1 ft past the hole up to 20 ft, and 5 % of the length past it beyond."""
    return np.maximum(AIM_PAST_M, TOUR_PLAYER.aim_past_share * length_m)


def putt(
    player: TourPlayer, length_m: FloatArray, rng: np.random.Generator
) -> tuple[FloatArray, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """One putt from each length: what is left to the hole (n,), and which dropped (n,)."""
    direction, speed = _launches(player, length_m, rng)
    rests = roll_many(speed, LEVEL, direction_rad=direction)
    past = np.hypot(rests.x_m, rests.y_m) - length_m
    on_line = length_m * np.abs(np.sin(direction)) < HOLE_RADIUS_M - BALL_RADIUS_M
    holed = on_line & (past > 0.0) & (past < WINDOW_M)
    return np.hypot(rests.x_m - length_m, rests.y_m), holed


def holed_percent(player: TourPlayer, length_ft: float, count: int = 100_000, seed: int = 1) -> float:
    """Share of the putts from that length that drop, in percent."""
    _, holed = putt(player, np.full(count, length_ft * FOOT_M), np.random.default_rng(seed))
    return float(100.0 * holed.mean())


def holed_percent_with(
    capture: CaptureModel, player: TourPlayer, length_ft: float, count: int = 20_000, seed: int = 1
) -> float:
    """As `holed_percent`, by a physical model of capture in place of the rule."""
    length_m = np.full(count, length_ft * FOOT_M)
    direction, speed = _launches(player, length_m, np.random.default_rng(seed))
    hole = (length_ft * FOOT_M, 0.0)
    rests = roll_many(speed, LEVEL, direction_rad=direction, hole_m=hole, capture=capture)
    return float(100.0 * np.mean(rests.holed))


def expected_putts(player: TourPlayer, length_ft: float, count: int = 40_000, seed: int = 1) -> float:
    """Mean number of putts from that length until the ball is in."""
    rng = np.random.default_rng(seed)
    left = np.full(count, length_ft * FOOT_M)
    putts = 0
    for _ in range(MOST_PUTTS):
        putts += left.size
        left, holed = putt(player, left, rng)
        left = left[~holed]
        if left.size == 0:
            break
    return putts / count


def _launches(
    player: TourPlayer, length_m: FloatArray, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Directions and launch speeds of putts from these lengths."""
    meant = length_m + player.strategy(length_m)
    rolled = meant * np.maximum(1.0 + player.distance_sd * _normal(length_m.size, rng), 0.05)
    return player.angle_sd_rad * _normal(length_m.size, rng), launch_speeds(rolled, LEVEL)


def _normal(count: int, rng: np.random.Generator) -> FloatArray:
    """Normal draws, one from each of as many strata: the luck of the draw shrinks, the distribution stays."""
    return np.asarray(ndtri((rng.permutation(count) + rng.random(count)) / count))
