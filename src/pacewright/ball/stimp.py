"""Green speed: rolls from the ramp up and down a slope, and the level speed they stand for.

Level speed S = 2·S_up·S_down/(S_up + S_down): A. D. Brede, Green Section Record 28(6), 1990 (read). It
follows from constant deceleration, on which the slope acts with either sign, and holds to the cosine of the
slope.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from pacewright.ball.path import roll_out
from pacewright.ball.plane import SPHERE
from pacewright.core.errors import SettingsError
from pacewright.core.green import GRAVITY_M_S2, RELEASE_SPEED_M_S, Green, GreenSpeed
from pacewright.core.launch import Launch, RollOut
from pacewright.core.measure import Remark
from pacewright.core.units import INCH_M

LEVEL_TEST_M = 18 * INCH_M
"""Directions further apart make the figure questionable (USGA booklet, by way of Woods 2021, second-hand)."""
ROLLS_APART_M = 8 * INCH_M
"""Rolls in one direction belong together within this (USGA booklet, second-hand)."""
SLOPE_SHARE = 0.5
"""Share of rolling friction that the slope may take; beyond it an error of a roll weighs too much (our
choice, no source)."""


def brede_speed_m(up_m: float, down_m: float) -> float:
    """Level green speed from the mean roll up and the mean roll down."""
    return 2.0 * up_m * down_m / (up_m + down_m)


def ramp_roll(green: Green, release_speed_m_s: float = RELEASE_SPEED_M_S) -> RollOut:
    """The roll from the ramp along the target line: released rolling, no skid.

    ``release_speed_m_s`` is that of this ramp; the green's speed was stated for 1.83 m/s.
    """
    return roll_out(Launch(release_speed_m_s, roll_share=1.0), green, sliding_friction=None)


def ramp_rolls_m(green: Green, release_speed_m_s: float = RELEASE_SPEED_M_S) -> tuple[float, float]:
    """Lengths of the rolls (up, down) from the ramp along the green's slope."""
    up = replace(green, slope_rad=abs(green.slope_rad))
    down = replace(green, slope_rad=-abs(green.slope_rad))
    return ramp_roll(up, release_speed_m_s).roll_out_m, ramp_roll(down, release_speed_m_s).roll_out_m


def measure_green(
    up_m: Sequence[float], down_m: Sequence[float], *, release_speed_m_s: float = RELEASE_SPEED_M_S
) -> GreenSpeed:
    """Green speed from rolls measured up the slope and rolls measured down it.

    Its standard uncertainty comes from the scatter of the rolls and needs two rolls each way (else nan); that
    of the ramp is not in it. Raises SettingsError for rolls that no green gives.
    """
    up, down = _rolls(up_m, "up"), _rolls(down_m, "down")
    up_mean, down_mean = float(np.mean(up)), float(np.mean(down))
    speed = brede_speed_m(up_mean, down_mean)
    up_weight, down_weight = (speed / up_mean) ** 2 / 2.0, (speed / down_mean) ** 2 / 2.0
    sd = math.hypot(up_weight * _sd_of_mean(up), down_weight * _sd_of_mean(down))
    pull = release_speed_m_s**2 / 4.0 * (1.0 / up_mean - 1.0 / down_mean)
    rise = math.asin(max(-1.0, min(1.0, pull / (SPHERE * GRAVITY_M_S2))))
    return GreenSpeed(speed, sd, rise, tuple(_warnings(up, down)))


def _rolls(rolls_m: Sequence[float], way: str) -> list[float]:
    rolls = [float(roll) for roll in rolls_m]
    if not rolls:
        raise SettingsError(f"No roll {way} the slope was given; measure both ways, such as 185cm and 981cm.")
    for roll in rolls:
        if not (math.isfinite(roll) and 0.1 <= roll <= 50.0):
            raise SettingsError(
                f"A roll of {roll:g} m {way} the slope is outside 0.1 to 50 m; give it as 185cm or 6ft 1in."
            )
    return rolls


def _sd_of_mean(rolls: Sequence[float]) -> float:
    return float(np.std(rolls, ddof=1) / math.sqrt(len(rolls))) if len(rolls) > 1 else math.nan


def _warnings(up: Sequence[float], down: Sequence[float]) -> list[Remark]:
    up_mean, down_mean = float(np.mean(up)), float(np.mean(down))
    apart, share = abs(down_mean - up_mean), abs(down_mean - up_mean) / (down_mean + up_mean)
    warnings = []
    if apart > LEVEL_TEST_M:
        warnings.append(
            Remark(
                "not-level",
                f"The two directions differ by {_length(apart)}, more than {_limit(LEVEL_TEST_M)}: the "
                "surface is too sloped for an accurate figure; measure on a flatter place.",
            )
        )
    if share > SLOPE_SHARE:
        warnings.append(
            Remark(
                "slope-too-strong",
                f"The slope takes {100 * share:.0f} % of the ball's rolling friction; beyond "
                f"{100 * SLOPE_SHARE:.0f} % the corrected figure is a rough guide only.",
            )
        )
    if up_mean - down_mean > ROLLS_APART_M:
        warnings.append(
            Remark("swapped", "The rolls up the slope are the longer ones: are up and down swapped?")
        )
    for way, rolls in (("up", up), ("down", down)):
        if max(rolls) - min(rolls) > ROLLS_APART_M:
            warnings.append(
                Remark(
                    "rolls-apart",
                    f"The rolls {way} the slope lie {_length(max(rolls) - min(rolls))} apart, more than "
                    f"{_limit(ROLLS_APART_M)}: repeat them.",
                )
            )
    return warnings


def _length(length_m: float) -> str:
    return f"{100 * length_m:.1f} cm ({length_m / INCH_M:.1f} in)"


def _limit(length_m: float) -> str:
    return f"{length_m / INCH_M:.0f} in ({100 * length_m:.1f} cm)"
