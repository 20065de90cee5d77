"""From a length to the launch speed that covers it.

Friction and slope set accelerations and no speed: scale the launch speed by s and times grow by s, lengths by
s². So one roll at 1 m/s tells every launch speed on a plane green, skid, slope and cross-slope included.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from pacewright.ball.path import FASTEST_LAUNCH_M_S, path_of
from pacewright.ball.skid import SLIDING_FRICTION
from pacewright.core.errors import SettingsError, SimulationError
from pacewright.core.green import RELEASE_SPEED_M_S, Green
from pacewright.core.launch import Launch
from pacewright.core.recording import FloatArray
from pacewright.core.units import FOOT_M

LONGEST_PUTT_M = 100.0


def launch_speeds(
    lengths_m: Sequence[float] | FloatArray,
    green: Green,
    *,
    beyond_m: float = 0.0,
    sliding_friction: float | None = SLIDING_FRICTION,
    roll_share: float = 0.0,
    release_speed_m_s: float = RELEASE_SPEED_M_S,
) -> FloatArray:
    """Launch speeds (n,) along the target line at which balls rest at x = length + ``beyond_m``.

    With a cross-slope the ball still starts along the target line, and rests beside it.
    Raises SettingsError for an impossible length, SimulationError when no launch reaches it.
    """
    targets = np.array([_target(float(length), beyond_m) for length in lengths_m], dtype=np.float64)
    unit = path_of(
        Launch(1.0, 0.0, roll_share),
        green,
        sliding_friction=sliding_friction,
        release_speed_m_s=release_speed_m_s,
    )
    reach = float(unit.rest().displacement_m[0])
    if reach <= 0.0:
        raise SimulationError(
            "A ball launched along the target line with this spin comes to rest behind its place; "
            "use less backspin."
        )
    speeds = np.sqrt(targets / reach)
    if speeds.size and float(speeds.max()) > FASTEST_LAUNCH_M_S:
        raise SimulationError(
            f"A putt of {targets.max():.4g} m ({targets.max() / FOOT_M:.4g} ft) would need "
            f"{speeds.max():.3g} m/s on this green, more than {FASTEST_LAUNCH_M_S:g} m/s; "
            "give a shorter putt or a less steep green."
        )
    return speeds


def launch_speed(
    length_m: float,
    green: Green,
    *,
    beyond_m: float = 0.0,
    sliding_friction: float | None = SLIDING_FRICTION,
    roll_share: float = 0.0,
    release_speed_m_s: float = RELEASE_SPEED_M_S,
) -> float:
    """As `launch_speeds`, for one length."""
    speeds = launch_speeds(
        [length_m],
        green,
        beyond_m=beyond_m,
        sliding_friction=sliding_friction,
        roll_share=roll_share,
        release_speed_m_s=release_speed_m_s,
    )
    return float(speeds[0])


def _target(length_m: float, beyond_m: float) -> float:
    if not 0.0 < length_m <= LONGEST_PUTT_M:
        raise SettingsError(
            f"A putt of {length_m:g} m is outside 0 to {LONGEST_PUTT_M:g} m; give it as 3m or 10ft."
        )
    if not (math.isfinite(beyond_m) and 0.0 <= beyond_m <= 20.0):
        raise SettingsError(f"A distance of {beyond_m:g} m beyond the hole is outside 0 to 20 m.")
    return length_m + beyond_m
