"""Use cases of the ball: roll a putt, find the launch for a length, measure a green."""

from __future__ import annotations

from collections.abc import Sequence

from pacewright.ball import hole, impact, path, prediction, solve, stimp
from pacewright.ball.skid import SLIDING_FRICTION as SLIDING_FRICTION
from pacewright.core.equipment import Putter
from pacewright.core.green import Green, GreenSpeed
from pacewright.core.launch import AtHole, Launch, RollOut
from pacewright.core.measure import Measure


def roll_putt(
    launch_speed_m_s: float,
    green: Green,
    *,
    direction_rad: float = 0.0,
    roll_share: float = 0.0,
    sliding_friction: float | None = SLIDING_FRICTION,
) -> RollOut:
    """Roll one putt to rest, no hole in its way; ``sliding_friction`` None rolls from the start.

    Raises SettingsError for an impossible launch, SimulationError when the ball never stops.
    """
    launch = Launch(launch_speed_m_s, direction_rad, roll_share)
    return path.roll_out(launch, green, sliding_friction=sliding_friction)


def launch_for_length(
    length_m: float, green: Green, *, beyond_m: float = 0.0, sliding_friction: float | None = SLIDING_FRICTION
) -> RollOut:
    """The putt along the target line that rests at ``length_m`` + ``beyond_m``, no hole in its way.

    On a cross-slope it starts along the target line all the same and rests beside it (``across_m``).
    Raises SettingsError for an impossible length, SimulationError when no launch reaches it.
    """
    speed = solve.launch_speed(length_m, green, beyond_m=beyond_m, sliding_friction=sliding_friction)
    return roll_putt(speed, green, sliding_friction=sliding_friction)


def putt_at_hole(
    launch_speed_m_s: float,
    length_m: float,
    green: Green,
    *,
    direction_rad: float = 0.0,
    sliding_friction: float | None = SLIDING_FRICTION,
) -> AtHole:
    """How a putt comes to a hole at that length on the target line, and whether it drops (Holmes 1991).

    Raises as `roll_putt`, and SettingsError when the hole lies under the ball.
    """
    way = path.path_of(Launch(launch_speed_m_s, direction_rad), green, sliding_friction=sliding_friction)
    return hole.at_hole(way, length_m)


def launch_speeds_for_lengths(
    lengths_m: Sequence[float],
    green: Green,
    *,
    beyond_m: float = 0.0,
    sliding_friction: float | None = SLIDING_FRICTION,
) -> tuple[float, ...]:
    """Launch speed for each length; see `launch_for_length`."""
    speeds = solve.launch_speeds(lengths_m, green, beyond_m=beyond_m, sliding_friction=sliding_friction)
    return tuple(float(speed) for speed in speeds)


def measure_green(up_m: Sequence[float], down_m: Sequence[float]) -> GreenSpeed:
    """Green speed from rolls of the ramp measured up the slope and down it, with warnings.

    Raises SettingsError for rolls that no green gives.
    """
    return stimp.measure_green(up_m, down_m)


def predicted_roll_out(
    green: Green, putter: Putter, *, ball_speed: Measure | None, head_speed: Measure | None
) -> Measure | None:
    """Roll-out from ball speed, or else from head speed; None when neither is known."""
    return prediction.predicted_roll_out(green, putter, ball_speed=ball_speed, head_speed=head_speed)


def ball_speed_ratio(putter: Putter) -> float:
    """Ball speed over head speed for a strike in the centre of the face."""
    return impact.ball_speed_ratio(putter)
