"""Launch to rest on a plane green in closed form: skid, then pure roll. One ball or an array of balls."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.ball.hodograph import Decay, Motion
from pacewright.ball.plane import Plane, Vector, plane_of
from pacewright.ball.rolling import rolling, rolling_deceleration_m_s2
from pacewright.ball.skid import SLIDING_FRICTION, Skid, skid
from pacewright.core.errors import SettingsError
from pacewright.core.green import GRAVITY_M_S2, RELEASE_SPEED_M_S, Green
from pacewright.core.launch import Launch, RollOut
from pacewright.core.recording import FloatArray

FASTEST_LAUNCH_M_S = 20.0
"""Nothing that is a putt leaves the face faster; it would roll some 180 m on a slow green."""


@dataclass(frozen=True, slots=True)
class PlanePath:
    """The whole way of a ball: skid (None when it rolls from the start), and the roll that follows.

    ``skid_end`` is the state at which the roll begins.
    """

    plane: Plane
    skid: Skid | None
    skid_end: Motion
    roll: Decay

    def at(self, progress: FloatArray | float) -> Motion:
        """State at a progress from 0 (launch) by 1 (skid ends) to 2 (rest); times and places since launch."""
        progress = np.asarray(progress, dtype=np.float64)
        rolled = self._rolled(np.clip(2.0 - progress, 0.0, 1.0))
        if self.skid is None:
            return rolled
        slid = self.skid.at(np.clip(1.0 - progress, 0.0, 1.0))
        return _choose(progress < 1.0, slid, rolled)

    def rise_rad(self, motion: Motion) -> FloatArray:
        """Rise of the surface along the travel of a state; 0 for a ball at rest."""
        (v_x, v_y), (pull_x, pull_y) = motion.velocity_m_s, self.plane.pull_m_s2
        speed = np.hypot(v_x, v_y)
        along = (pull_x * v_x + pull_y * v_y) / np.where(speed > 0.0, speed, 1.0)
        return np.asarray(-np.arcsin(along / GRAVITY_M_S2))

    def rest(self) -> Motion:
        """State at rest."""
        return self._rolled(0.0)

    def _rolled(self, left: FloatArray | float) -> Motion:
        rolled, start = self.roll.at(left), self.skid_end
        x, y = rolled.displacement_m
        place = start.displacement_m[0] + x, start.displacement_m[1] + y
        return Motion(start.time_s + rolled.time_s, rolled.velocity_m_s, place)


def plane_path(
    velocity_m_s: Vector,
    plane: Plane,
    *,
    roll_share: FloatArray | float = 0.0,
    sliding_friction: float | None = SLIDING_FRICTION,
) -> PlanePath:
    """The ways of balls launched with those velocities; ``sliding_friction`` None rolls from the start."""
    if sliding_friction is None:
        nought = np.zeros(np.shape(velocity_m_s[0]))
        start = Motion(nought, velocity_m_s, (nought, nought))
        return PlanePath(plane, None, start, rolling(velocity_m_s, plane))
    sliding = skid(velocity_m_s, roll_share, plane, sliding_friction)
    skid_end = sliding.end()
    return PlanePath(plane, sliding, skid_end, rolling(skid_end.velocity_m_s, plane))


def path_of(
    launch: Launch,
    green: Green,
    *,
    sliding_friction: float | None = SLIDING_FRICTION,
    release_speed_m_s: float = RELEASE_SPEED_M_S,
) -> PlanePath:
    """The way of one ball.

    Raises SettingsError for an impossible launch, SimulationError when the ball never stops.
    """
    check_launch(launch)
    return plane_path(
        velocity_of(launch),
        plane_of(green, release_speed_m_s),
        roll_share=launch.roll_share,
        sliding_friction=sliding_friction,
    )


def roll_out(
    launch: Launch,
    green: Green,
    *,
    sliding_friction: float | None = SLIDING_FRICTION,
    release_speed_m_s: float = RELEASE_SPEED_M_S,
) -> RollOut:
    """Where one ball comes to rest and when, no hole in its way. Errors as `path_of`."""
    path = path_of(launch, green, sliding_friction=sliding_friction, release_speed_m_s=release_speed_m_s)
    rest, skid_end = path.rest(), path.skid_end
    return RollOut(
        launch_speed_m_s=launch.speed_m_s,
        roll_out_m=float(rest.displacement_m[0]),
        across_m=float(rest.displacement_m[1]),
        time_s=float(rest.time_s),
        skid_length_m=float(np.hypot(*skid_end.displacement_m)),
        skid_time_s=float(skid_end.time_s),
        deceleration_m_s2=rolling_deceleration_m_s2(path.plane, launch.direction_rad),
    )


def velocity_of(launch: Launch) -> Vector:
    """Velocity of one launch along and across the target line."""
    speed, direction = launch.speed_m_s, launch.direction_rad
    return np.asarray(speed * math.cos(direction)), np.asarray(speed * math.sin(direction))


def check_launch(launch: Launch) -> None:
    """Raise SettingsError unless the launch can be that of a putt."""
    if not 0.0 < launch.speed_m_s <= FASTEST_LAUNCH_M_S:
        raise SettingsError(
            f"A launch speed of {launch.speed_m_s:g} m/s is not one of a putt; give one above 0 and up to "
            f"{FASTEST_LAUNCH_M_S:g} m/s."
        )
    if not abs(launch.direction_rad) <= math.pi:
        raise SettingsError("The direction of a launch must lie within half a turn of the target line.")
    if not abs(launch.roll_share) <= 3.0:
        raise SettingsError(f"A spin of {launch.roll_share:g} times pure roll is outside −3 to 3.")


def _choose(first: NDArray[np.bool_], yes: Motion, no: Motion) -> Motion:
    """Each entry from ``yes`` where ``first`` holds, else from ``no``."""
    where = np.where
    return Motion(
        where(first, yes.time_s, no.time_s),
        (
            where(first, yes.velocity_m_s[0], no.velocity_m_s[0]),
            where(first, yes.velocity_m_s[1], no.velocity_m_s[1]),
        ),
        (
            where(first, yes.displacement_m[0], no.displacement_m[0]),
            where(first, yes.displacement_m[1], no.displacement_m[1]),
        ),
    )
