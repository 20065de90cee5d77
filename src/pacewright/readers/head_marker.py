"""Does a marker move like a putter head: back from rest, then faster forward, straight and low?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray

SLOWEST_M_S, FASTEST_M_S = 0.2, 8.0
"""Head speed of putts, with room: a shorter tap moves too little to be told from a step."""

_SMOOTHED_S = 0.04
_SEARCH_S = 4.0
_MOST_PEAKS = 40
_LENGTH_M = (0.03, 1.5)
_BACKSWING_S = (0.2, 2.5)
_FORWARD_S = (0.08, 1.2)
_FASTER_FORWARD = 1.15
_REST_S = 0.15
_REST_SHARE = 0.25
_STRAIGHT_SHARE = 0.12
_RISE_SHARE = 0.25
_RISE_M = 0.01
_BACK_AT_BALL_SHARE = 0.6
_HIGHEST_ABOVE_FLOOR_M = 0.35
_LEAD_SHARE = 0.85
_FEWEST_ON_PATH = 6


@dataclass(frozen=True, slots=True)
class HeadSwing:
    """A swing: level ``direction`` (unit, (3,)) at the ball, place at address (3,), top speed."""

    direction: FloatArray
    address_m: FloatArray
    speed_m_s: float


@dataclass(frozen=True, slots=True)
class _Motion:
    """A marker at even sight: places (n, 3) without holes, velocity (n, 3), and level speed (n,)."""

    time_s: FloatArray
    places: FloatArray
    velocity: FloatArray
    level_speed: FloatArray
    up: FloatArray


def fastest_swing(
    time_s: FloatArray,
    places: FloatArray,
    up: FloatArray,
    *,
    floor_m: float | None = None,
    others_m_s: FloatArray | None = None,
) -> HeadSwing | None:
    """The fastest motion like a putter head's of a marker at ``places`` (n, 3); None when there is none.

    ``up`` is a unit vector (3,). With a ``floor_m`` the marker must also be near that height at address;
    with ``others_m_s`` (n,), the speed of the fastest other marker, none may be faster on the way down:
    a foot that steps forward under a faster hand is no putter head.
    """
    motion = _motion(time_s, places, up)
    others = None if others_m_s is None else others_m_s[np.isfinite(places[:, 0])]
    for peak in _peaks(motion):
        swing = _swing_at(motion, peak, floor_m, others)
        if swing is not None:
            return swing
    return None


def loose_swing(time_s: FloatArray, places: FloatArray, up: FloatArray) -> HeadSwing:
    """The direction of a marker where it is fastest, whatever its motion; its usual place for address."""
    motion = _motion(time_s, places, up)
    peak = int(np.argmax(motion.level_speed))
    address = np.median(motion.places, axis=0)
    return HeadSwing(_direction(motion, peak), address, float(motion.level_speed[peak]))


def speed_of(time_s: FloatArray, places: FloatArray) -> FloatArray:
    """Speed (n,) of a marker at ``places`` (n, 3), 0 where it was not seen."""
    known = np.isfinite(places[:, 0])
    speed = np.zeros(time_s.size)
    if known.sum() > 2:
        velocity = _velocity(time_s[known], places[known])
        speed[known] = np.sqrt((velocity**2).sum(axis=1))
    return speed


def _velocity(time_s: FloatArray, places: FloatArray) -> FloatArray:
    width = round(_SMOOTHED_S / float(np.median(np.diff(time_s)))) | 1
    return np.asarray(np.gradient(_running_mean(places, width), time_s, axis=0))


def _motion(time_s: FloatArray, places: FloatArray, up: FloatArray) -> _Motion:
    known = np.isfinite(places[:, 0])
    time_s, places = time_s[known], places[known]
    velocity = _velocity(time_s, places)
    level = velocity - np.outer(velocity @ up, up)
    return _Motion(time_s, places, velocity, np.sqrt((level**2).sum(axis=1)), up)


def _running_mean(values: FloatArray, width: int) -> FloatArray:
    """Mean over ``width`` (odd) samples of (n, 3); the ends are repeated."""
    half = width // 2
    padded = np.pad(values, ((half + 1, half), (0, 0)), mode="edge")
    total = np.cumsum(padded, axis=0)
    return np.asarray((total[width:] - total[:-width]) / width)


def _peaks(motion: _Motion) -> list[int]:
    """Peaks of level speed within the speeds of putts, fastest first."""
    speed = motion.level_speed
    inner = speed[1:-1]
    peaks = np.flatnonzero((inner >= speed[:-2]) & (inner > speed[2:])) + 1
    peaks = peaks[(speed[peaks] >= SLOWEST_M_S) & (speed[peaks] <= FASTEST_M_S)]
    return [int(peak) for peak in peaks[np.argsort(-speed[peaks])][:_MOST_PEAKS]]


def _direction(motion: _Motion, peak: int) -> FloatArray:
    """Level unit direction (3,) of the motion at a peak of speed."""
    velocity = motion.velocity[max(peak - 1, 0) : peak + 2].mean(axis=0)
    level = velocity - (velocity @ motion.up) * motion.up
    length = float(np.linalg.norm(level))
    if length == 0.0:
        level = np.roll(motion.up, 1)
        length = 1.0
    return np.asarray(level / length)


def _swing_at(
    motion: _Motion, peak: int, floor_m: float | None, others: FloatArray | None
) -> HeadSwing | None:
    """The swing that has its top speed at ``peak``, when it is one like a putter head's."""
    direction = _direction(motion, peak)
    speed = motion.velocity @ direction
    top = _before(speed <= 0.0, peak)
    if top is None:
        return None
    first = int(np.searchsorted(motion.time_s, motion.time_s[top] - _SEARCH_S))
    start_of_top = _before(speed < -0.02, top + 1) or top
    # The backswing ends at the top; its fastest sample lies within the time that a backswing may take.
    earliest = int(np.searchsorted(motion.time_s, motion.time_s[start_of_top] - _BACKSWING_S[1]))
    fastest_back = earliest + int(np.argmin(speed[earliest : start_of_top + 1]))
    back_speed = -float(speed[fastest_back])
    takeaway = _before(speed >= -0.1 * back_speed, fastest_back)
    if takeaway is None or takeaway < first or back_speed <= 0.0:
        return None
    part = slice(takeaway, peak + 1)
    if not (
        _times_fit(motion.time_s, takeaway, start_of_top, top, peak)
        and speed[peak] >= _FASTER_FORWARD * back_speed
        and _starts_from_rest(motion, takeaway, back_speed)
        and _is_straight_and_level(motion, part, direction)
        and _leads(motion, top, peak, others)
    ):
        return None
    address = np.median(motion.places[_rest_window(motion.time_s, takeaway)], axis=0)
    if floor_m is not None and float(address @ motion.up) - floor_m > _HIGHEST_ABOVE_FLOOR_M:
        return None
    direction = _path_direction(motion, slice(top, peak + 1), direction, address)
    return HeadSwing(direction, address, float(speed[peak]))


def _path_direction(motion: _Motion, part: slice, direction: FloatArray, address: FloatArray) -> FloatArray:
    """Level direction (3,) in which the path passes the place at address.

    A parabola through the way forward: finer than the velocity at one time, and the head's path is an
    arc, which does not point along the target line where it is fastest but where the ball is.
    """
    across = np.cross(motion.up, direction)
    away = motion.places[part] - address
    along, aside = away @ direction, away @ across
    if along.size < _FEWEST_ON_PATH:
        return direction
    slope = float(np.polyfit(along, aside, 2)[1])
    return np.asarray((direction + slope * across) / np.hypot(1.0, slope))


def _before(condition: NDArray[np.bool_], index: int) -> int | None:
    """Last sample before ``index`` at which a condition (n,) holds."""
    found = np.flatnonzero(condition[:index])
    return int(found[-1]) if found.size else None


def _times_fit(time_s: FloatArray, takeaway: int, start_of_top: int, top: int, peak: int) -> bool:
    backswing = float(time_s[start_of_top] - time_s[takeaway])
    forward = float(time_s[peak] - time_s[top])
    return _BACKSWING_S[0] <= backswing <= _BACKSWING_S[1] and _FORWARD_S[0] <= forward <= _FORWARD_S[1]


def _rest_window(time_s: FloatArray, takeaway: int) -> slice:
    return slice(int(np.searchsorted(time_s, time_s[takeaway] - _REST_S)), takeaway + 1)


def _starts_from_rest(motion: _Motion, takeaway: int, back_speed: float) -> bool:
    before = motion.velocity[_rest_window(motion.time_s, takeaway)]
    return float(np.median(np.sqrt((before**2).sum(axis=1)))) <= _REST_SHARE * back_speed


def _leads(motion: _Motion, top: int, peak: int, others: FloatArray | None) -> bool:
    """Whether nothing else is faster on the way from the top to the peak (a ball is still at rest then)."""
    if others is None:
        return True
    forward = slice(top, (top + peak) // 2 + 1)
    own = np.sqrt((motion.velocity[forward] ** 2).sum(axis=1))
    return float(own.mean()) >= _LEAD_SHARE * float(others[forward].mean())


def _is_straight_and_level(motion: _Motion, part: slice, direction: FloatArray) -> bool:
    """Whether the swing keeps to its line, stays level, and passes its place at address at speed."""
    away = motion.places[part] - motion.places[part.start]
    along = away @ direction
    length = -float(along.min())
    if not _LENGTH_M[0] <= length <= _LENGTH_M[1]:
        return False
    height = away @ motion.up
    aside = away @ np.cross(motion.up, direction)
    aside = aside - np.polyval(np.polyfit(along, aside, 1), along)
    return (
        float(np.sqrt((aside**2).mean())) <= _STRAIGHT_SHARE * length
        and float(np.ptp(height)) <= _RISE_SHARE * length + _RISE_M
        and abs(float(along[-1])) <= _BACK_AT_BALL_SHARE * length
    )
