"""Which balls the hole takes: models of the fastest speed at the rim, and the way a ball comes to the rim.

Models are interchangeable. On a slope every one is divided by √(1 − sin φ), φ the rise of the surface along
the ball's travel (Penner 2002, eq. 30, second-hand; 5° gives 1.706 m/s up and 1.563 m/s down for 1.63).
What happens to a ball that the hole does not take (a lip-out) is not modelled: it rolls on as if there were
no hole.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from pacewright.ball.hodograph import Motion
from pacewright.core.equipment import BALL_RADIUS_M, HOLE_RADIUS_M
from pacewright.core.errors import SettingsError
from pacewright.core.green import GRAVITY_M_S2
from pacewright.core.launch import AtHole
from pacewright.core.recording import FloatArray

_LOOKS = np.concatenate(
    [np.linspace(0.0, 1.0, 4), 2.0 - np.array([0.97, 0.9, 0.8, 0.65, 0.5, 0.35, 0.2, 0.08, 1e-6])]
)
"""Progress at which a path is first looked at: from one to the next it turns too little to hide a pass."""
_REFINEMENTS = 16


class CaptureModel(Protocol):
    """A model of capture."""

    def fastest_m_s(self, offset_m: FloatArray, rise_rad: FloatArray) -> FloatArray:
        """Fastest speed at the rim at which the ball is taken; 0 or less where no speed will do.

        ``offset_m``: closest that the way comes to the centre; ``rise_rad``: rise along travel.
        """
        ...


@dataclass(frozen=True, slots=True)
class HolmesCapture:
    """All mechanisms: 1.63·(1 − (δ/R)²) m/s.

    Holmes, Am. J. Phys. 59 (1991) 129–136, with the offset as in Penner 2002, eq. 23 (second-hand).
    """

    centre_speed_m_s: float = 1.63
    hole_radius_m: float = HOLE_RADIUS_M

    def fastest_m_s(self, offset_m: FloatArray, rise_rad: FloatArray) -> FloatArray:
        """See `CaptureModel`."""
        level = self.centre_speed_m_s * (1.0 - (offset_m / self.hole_radius_m) ** 2)
        return np.asarray(level / np.sqrt(1.0 - np.sin(rise_rad)))


@dataclass(frozen=True, slots=True)
class FreeFallCapture:
    """Free fall alone: the ball drops by its radius before it has crossed the hole.

    (2R − r)·√(g/2r) through the centre, 1.314 m/s (Penner 2002, second-hand; derived here too). Off the
    centre the chord 2·√(R² − δ²) stands for 2R (derived).
    """

    hole_radius_m: float = HOLE_RADIUS_M
    ball_radius_m: float = BALL_RADIUS_M

    def fastest_m_s(self, offset_m: FloatArray, rise_rad: FloatArray) -> FloatArray:
        """See `CaptureModel`."""
        chord = 2.0 * np.sqrt(np.maximum(self.hole_radius_m**2 - np.asarray(offset_m) ** 2, 0.0))
        level = (chord - self.ball_radius_m) * np.sqrt(GRAVITY_M_S2 / (2.0 * self.ball_radius_m))
        return np.asarray(level / np.sqrt(1.0 - np.sin(rise_rad)))


class Track(Protocol):
    """A way of balls over a green: what a path in closed form and a stepped one have in common."""

    def at(self, progress: FloatArray | float) -> Motion:
        """State at a progress from 0 (launch) by 1 (skid ends) to 2 (rest)."""
        ...

    def rise_rad(self, motion: Motion) -> FloatArray:
        """Rise of the surface along the travel of a state."""
        ...


@dataclass(frozen=True, slots=True)
class Arrival:
    """How balls come to the hole, one entry a ball.

    ``reaches``: whether the ball's centre comes over the hole; the rest is nan where it does not.
    ``offset_m``: closest that it comes to the hole's centre. At the rim: ``speed_m_s``, ``time_s`` and
    ``rise_rad``.
    """

    reaches: NDArray[np.bool_]
    offset_m: FloatArray
    speed_m_s: FloatArray
    time_s: FloatArray
    rise_rad: FloatArray


def arrival(track: Track, hole_m: tuple[float, float], hole_radius_m: float = HOLE_RADIUS_M) -> Arrival:
    """The arrival at a hole whose centre lies at that place (x, y) of balls launched at the origin.

    Raises SettingsError when the hole lies under the ball at launch.
    """
    if not np.hypot(*hole_m) > hole_radius_m:
        raise SettingsError(
            f"The hole lies {np.hypot(*hole_m):.3g} m away, under the ball; give a longer putt."
        )
    before, nearest = _nearest(track, hole_m, hole_radius_m)
    offset = _distance(track.at(nearest), hole_m)
    reaches = np.asarray(offset < hole_radius_m)
    rim = track.at(_root(lambda at: _distance(track.at(at), hole_m) - hole_radius_m, before, nearest))
    known = [np.hypot(*rim.velocity_m_s), rim.time_s, track.rise_rad(rim)]
    speed, time, rise = (np.where(reaches, figure, np.nan) for figure in known)
    return Arrival(reaches, np.where(reaches, offset, np.nan), speed, time, rise)


def is_holed(arrived: Arrival, capture: CaptureModel) -> NDArray[np.bool_]:
    """Which of the balls the hole takes."""
    with np.errstate(invalid="ignore"):
        return arrived.reaches & (
            arrived.speed_m_s <= capture.fastest_m_s(arrived.offset_m, arrived.rise_rad)
        )


def at_hole(track: Track, length_m: float, capture: CaptureModel | None = None) -> AtHole:
    """How one putt comes to a hole at that length on the target line; HolmesCapture unless told otherwise."""
    arrived = arrival(track, (length_m, 0.0))
    holed = is_holed(arrived, capture or HolmesCapture())
    return AtHole(float(arrived.speed_m_s), float(arrived.offset_m), bool(holed))


def _nearest(
    track: Track, hole_m: tuple[float, float], hole_radius_m: float
) -> tuple[FloatArray, FloatArray]:
    """Progress at the closest approach, and one before it at which the ball is still outside the hole.

    The closest approach is where the way turns from nearing the hole to leaving it, or else one of its ends.
    """
    looks = [track.at(look) for look in _LOOKS]
    nearing = np.array([_closing(look, hole_m) > 0.0 for look in looks])
    distance = np.array([_distance(look, hole_m) for look in looks])
    turns = nearing[:-1] & ~nearing[1:]
    # A ball passes the hole once, save on a bent way; of several passes the closest counts.
    score = np.where(turns, np.minimum(distance[:-1], distance[1:]), np.inf)
    turn = np.argmin(score, axis=0)[None]
    found = np.take_along_axis(turns, turn, axis=0)[0]
    low, high = _LOOKS[turn[0]], _LOOKS[turn[0] + 1]
    passing = _root(lambda at: _closing(track.at(at), hole_m), low, high)
    end = np.where(distance[0] < distance[-1], 0.0, 2.0)
    outside = found & (np.take_along_axis(distance, turn, axis=0)[0] > hole_radius_m)
    return np.where(outside, low, 0.0), np.where(found, passing, end)


def _root(f: Callable[[FloatArray], FloatArray], low: FloatArray, high: FloatArray) -> FloatArray:
    """Where f falls through zero between ``low`` and ``high``, entry by entry (regula falsi, Illinois).

    Where f has one sign at both ends the figure means nothing.
    """
    f_low, f_high = f(low), f(high)
    side = np.zeros_like(f_low)
    middle = low
    for _ in range(_REFINEMENTS):
        span = f_low - f_high
        middle = np.where(span != 0.0, (low * -f_high + high * f_low) / np.where(span == 0.0, 1.0, span), low)
        f_middle = f(middle)
        above = f_middle > 0.0
        f_high = np.where(above, np.where(side > 0.0, 0.5 * f_high, f_high), f_middle)
        f_low = np.where(above, f_middle, np.where(side < 0.0, 0.5 * f_low, f_low))
        low, high = np.where(above, middle, low), np.where(above, high, middle)
        side = np.where(above, 1.0, -1.0)
    return middle


def _distance(motion: Motion, hole_m: tuple[float, float]) -> FloatArray:
    x, y = motion.displacement_m
    return np.asarray(np.hypot(hole_m[0] - x, hole_m[1] - y))


def _closing(motion: Motion, hole_m: tuple[float, float]) -> FloatArray:
    """Positive while a ball nears the hole."""
    (x, y), (v_x, v_y) = motion.displacement_m, motion.velocity_m_s
    return np.asarray((hole_m[0] - x) * v_x + (hole_m[1] - y) * v_y)
