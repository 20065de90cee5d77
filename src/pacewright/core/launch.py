"""A ball leaving the face, and where it came to rest."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Launch:
    """Ball speed in m/s and its direction in radians against the target line (positive y positive).

    ``roll_share`` is the ball's spin as a share of pure roll: 0 slides without spin, 1 rolls from the
    start, below 0 is backspin.
    """

    speed_m_s: float
    direction_rad: float = 0.0
    roll_share: float = 0.0


@dataclass(frozen=True, slots=True)
class RollOut:
    """Where a putt ends: along and across the target line from the ball's first place, and when.

    ``skid_length_m`` and ``skid_time_s`` are zero when the ball rolls from the start.
    ``deceleration_m_s2`` is that of rolling along the launch direction.
    """

    launch_speed_m_s: float
    roll_out_m: float
    across_m: float
    time_s: float
    skid_length_m: float
    skid_time_s: float
    deceleration_m_s2: float


@dataclass(frozen=True, slots=True)
class AtHole:
    """How a putt comes to the hole: speed at the rim, closest distance to the centre, and whether it drops.

    ``speed_m_s`` and ``offset_m`` are nan when the ball's centre never comes over the hole.
    """

    speed_m_s: float
    offset_m: float
    holed: bool
