"""A practice station: two markers and a beat for each putt."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pacewright.core.errors import SettingsError
from pacewright.core.measure import Remark


@dataclass(frozen=True, slots=True)
class PuttStation:
    """Where the markers stand for one length of putt, and what follows from them.

    The back marker stands ``back_marker_m`` behind the ball's place at contact, the through marker
    ``through_marker_m`` beyond it. ``back_marker_band_m`` (low, high) keeps the roll-out within
    ``distance_tolerance_m`` of the aim. Beats: start moving, back marker, through marker.
    ``back_marker_sd_m`` is how well the marker's place is known for this player. ``head_rests_m`` is where
    a head left alone after contact comes to rest, short of the through marker by what the ball took.
    ``swing_constant`` is the constant at this backswing length, with its standard uncertainty.
    """

    putt_length_m: float
    launch_speed_m_s: float
    head_speed_m_s: float
    back_marker_m: float
    through_marker_m: float
    back_marker_band_m: tuple[float, float]
    distance_tolerance_m: float
    beat_interval_s: float
    backswing_time_s: float
    downswing_time_s: float
    time_ratio: float
    impact_acceleration_m_s2: float
    warnings: tuple[Remark, ...] = ()
    back_marker_sd_m: float = math.nan
    head_rests_m: float = math.nan
    swing_constant: float = math.nan
    swing_constant_sd: float = math.nan


@dataclass(frozen=True, slots=True)
class Station:
    """The stations of a practice set: one beat for all lengths.

    ``swing_constant`` is c in speed = c·backswing length / downswing time; ``constant_source`` says
    whether it is the textbook's or the player's own, and from how many strokes. ``ball_speed_ratio`` is
    the ball's speed over the head's, with which the launch was turned into head speed. ``notes`` say what
    the player's own strokes showed.
    """

    beats_per_minute: float
    swing_constant: float
    swing_constant_sd: float
    constant_source: str
    stations: tuple[PuttStation, ...]
    warnings: tuple[Remark, ...] = ()
    ball_speed_ratio: float = math.nan
    ball_speed_ratio_sd: float = math.nan
    notes: tuple[str, ...] = ()


def contact_share(back_marker_m: float, through_marker_m: float) -> float:
    """Share of a beat after the top at which the head passes the ball: arccos((F−B)/(F+B))/π.

    Raises SettingsError unless both markers stand at a distance above 0.
    """
    if not (0.0 < back_marker_m < math.inf and 0.0 < through_marker_m < math.inf):
        raise SettingsError("Both markers stand at a distance above 0 from the ball.")
    total = through_marker_m + back_marker_m
    return math.acos((through_marker_m - back_marker_m) / total) / math.pi
