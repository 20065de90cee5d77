"""Use case: the putts to practise on this green become a practice station."""

from __future__ import annotations

import math
from collections.abc import Sequence

from pacewright.app.putting import launch_speeds_for_lengths
from pacewright.ball.impact import ball_speed_ratio, head_speed_kept
from pacewright.ball.skid import SLIDING_FRICTION
from pacewright.coaching.station import PuttDemand, plan_station
from pacewright.coaching.swing import own_swing
from pacewright.core.equipment import Putter
from pacewright.core.errors import SettingsError
from pacewright.core.green import Green
from pacewright.core.measure import Measure, Remark
from pacewright.core.station import PuttStation, Station
from pacewright.core.stroke import Stroke

SCHEMA = "pacewright.station/1"
DISTANCE_TOLERANCE_SHARE = 0.10
"""Error of distance that the band of the back marker allows, as a share of the putt: about one standard
deviation of skilled amateurs over mixed putts (10.6 %, Karlsen and Nilsson 2008)."""


def build_station(
    putt_lengths_m: Sequence[float],
    green: Green,
    *,
    beats_per_minute: float = 90.0,
    putter: Putter | None = None,
    strokes: Sequence[Stroke] = (),
    distance_tolerance_share: float = DISTANCE_TOLERANCE_SHARE,
    beyond_m: float = 0.0,
    sliding_friction: float | None = SLIDING_FRICTION,
) -> Station:
    """Markers, tolerance band and beat for each putt, aimed to rest ``beyond_m`` past its length.

    ``strokes`` are the player's own putts: their constant takes the place of the textbook's.
    Raises SettingsError for lengths, a beat or a tolerance that make no sense, SimulationError when no
    launch reaches a length on this green.
    """
    if not 0.0 < distance_tolerance_share < 1.0:
        raise SettingsError(
            f"A distance error of {100 * distance_tolerance_share:g} % is outside 0 to 100 %; 10 % is usual."
        )
    for length in putt_lengths_m:
        if not (math.isfinite(length) and length > 0.0):
            raise SettingsError(f"A putt of {length:g} m makes no sense; its length is above 0.")
    putter = putter or Putter()
    tolerances = [distance_tolerance_share * length for length in putt_lengths_m]
    ends = [
        length + off
        for length, tolerance in zip(putt_lengths_m, tolerances, strict=True)
        for off in (0.0, -tolerance, tolerance)
    ]
    speeds = launch_speeds_for_lengths(ends, green, beyond_m=beyond_m, sliding_friction=sliding_friction)
    demands = [
        PuttDemand(length, speeds[3 * k], speeds[3 * k + 1], speeds[3 * k + 2], tolerances[k])
        for k, length in enumerate(putt_lengths_m)
    ]
    swing = own_swing(
        strokes, ball_speed_ratio=ball_speed_ratio(putter), head_speed_kept=head_speed_kept(putter)
    )
    return plan_station(demands, beats_per_minute=beats_per_minute, swing=swing)


def station_dict(station: Station) -> dict[str, object]:
    """The station in the words of `docs/contracts/station-json.md`, fit for `json.dumps`."""
    from pacewright.render.export import json_ready

    body = {
        "schema": SCHEMA,
        "beats_per_minute": station.beats_per_minute,
        "swing_constant": Measure(station.swing_constant, station.swing_constant_sd),
        "constant_source": station.constant_source,
        "notes": list(station.notes),
        "ball_speed_ratio": Measure(station.ball_speed_ratio, station.ball_speed_ratio_sd),
        "stations": [_putt_dict(putt) for putt in station.stations],
        "warnings": _warnings(station.warnings),
    }
    ready = json_ready(body)
    assert isinstance(ready, dict)
    return ready


def _putt_dict(putt: PuttStation) -> dict[str, object]:
    return {
        "putt_length_m": putt.putt_length_m,
        "launch_speed_m_s": putt.launch_speed_m_s,
        "head_speed_m_s": putt.head_speed_m_s,
        "back_marker_m": putt.back_marker_m,
        "back_marker_sd_m": putt.back_marker_sd_m,
        "through_marker_m": putt.through_marker_m,
        "head_rests_m": putt.head_rests_m,
        "swing_constant": Measure(putt.swing_constant, putt.swing_constant_sd),
        "back_marker_band_m": list(putt.back_marker_band_m),
        "distance_tolerance_m": putt.distance_tolerance_m,
        "beat_interval_s": putt.beat_interval_s,
        "backswing_time_s": putt.backswing_time_s,
        "downswing_time_s": putt.downswing_time_s,
        "time_ratio": putt.time_ratio,
        "impact_acceleration_m_s2": putt.impact_acceleration_m_s2,
        "warnings": _warnings(putt.warnings),
    }


def _warnings(warnings: Sequence[Remark]) -> list[dict[str, str]]:
    return [{"code": w.code, "text": w.text} for w in warnings]
