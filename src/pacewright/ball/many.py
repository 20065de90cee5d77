"""One putt or millions on plane greens: rest and holed, all at once in closed form."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pacewright.ball.hole import CaptureModel, HolmesCapture, arrival, is_holed
from pacewright.ball.path import FASTEST_LAUNCH_M_S, plane_path
from pacewright.ball.plane import Plane, plane_of
from pacewright.ball.skid import SLIDING_FRICTION
from pacewright.core.errors import SettingsError
from pacewright.core.green import RELEASE_SPEED_M_S, Green
from pacewright.core.recording import FloatArray

_BLOCK = 16_384
"""Putts worked on at once: their arrays stay in the processor's cache."""


@dataclass(frozen=True, slots=True)
class Rests:
    """Where each putt rests, no hole in its way, and when; all (n,).

    ``holed`` tells which the hole would have taken; None when no hole was given.
    """

    x_m: FloatArray
    y_m: FloatArray
    time_s: FloatArray
    holed: NDArray[np.bool_] | None


def roll_many(
    speed_m_s: ArrayLike,
    green: Green | Sequence[Green],
    *,
    direction_rad: ArrayLike = 0.0,
    roll_share: ArrayLike = 0.0,
    sliding_friction: float | None = SLIDING_FRICTION,
    release_speed_m_s: float = RELEASE_SPEED_M_S,
    hole_m: tuple[float, float] | None = None,
    capture: CaptureModel | None = None,
) -> Rests:
    """Roll many putts: speeds, directions and spins broadcast to (n,); one green, or one for each putt.

    ``hole_m`` is the place of the hole's centre (x, y); ``capture`` defaults to HolmesCapture.
    Raises SettingsError for impossible launches, SimulationError when a green never stops a ball.
    """
    speed, direction, roll = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(a, dtype=np.float64)) for a in (speed_m_s, direction_rad, roll_share))
    )
    if speed.ndim != 1:
        raise SettingsError(f"Speeds, directions and spins are rows of figures, not of shape {speed.shape}.")
    _check(speed, direction, roll)
    if not isinstance(green, Green) and len(green) != speed.size:
        raise SettingsError(f"{len(green)} greens were given for {speed.size} putts; give one, or one each.")
    plane = plane_of(green, release_speed_m_s)
    capture = capture or HolmesCapture()
    count = speed.size
    holed = None if hole_m is None else np.empty(count, dtype=np.bool_)
    rests = Rests(np.empty(count), np.empty(count), np.empty(count), holed)
    for block in _blocks(count):
        velocity = speed[block] * np.cos(direction[block]), speed[block] * np.sin(direction[block])
        path = plane_path(
            velocity, _part(plane, block), roll_share=roll[block], sliding_friction=sliding_friction
        )
        rest = path.rest()
        rests.x_m[block], rests.y_m[block] = rest.displacement_m
        rests.time_s[block] = rest.time_s
        if hole_m is not None and holed is not None:
            holed[block] = is_holed(arrival(path, hole_m), capture)
    return rests


def _blocks(count: int) -> Iterator[slice]:
    for start in range(0, count, _BLOCK):
        yield slice(start, start + _BLOCK)


def _part(plane: Plane, block: slice) -> Plane:
    """The planes of a block; a plane of one green serves every block."""
    if plane.resistance.ndim == 0:
        return plane
    x, y = plane.pull_m_s2
    return Plane(plane.normal_m_s2[block], (x[block], y[block]), plane.resistance[block])


def _check(speed: FloatArray, direction: FloatArray, roll: FloatArray) -> None:
    good = (
        (speed > 0.0) & (speed <= FASTEST_LAUNCH_M_S) & (np.abs(direction) <= np.pi) & (np.abs(roll) <= 3.0)
    )
    if good.all():
        return
    k = int(np.flatnonzero(~good)[0])
    raise SettingsError(
        f"Putt {k + 1} of {good.size} is no putt: speed {speed[k]:g} m/s (0 to {FASTEST_LAUNCH_M_S:g}), "
        f"direction {direction[k]:g} rad (within half a turn), spin {roll[k]:g} of pure roll (−3 to 3)."
    )
