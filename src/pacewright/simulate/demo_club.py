"""A made-up evening at the made-up Harrow Fen club: two invented players, three lengths of putt, seeded.

Nora Velling rushes: a long, slow backswing, then a downswing that has to hurry and is still speeding up at
contact, and her time changes with the length of the putt. Owen Tarrant is steady: one beat for every
length. Strokes come from `stroke_model`; the caller says what head speed each length wants.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pacewright.core.recording import Recording
from pacewright.simulate.sampling import Sampling, Sensor, record_inertial, record_trajectory
from pacewright.simulate.stroke_model import StrokeModel

CLUB = "Harrow Fen"
PUTT_LENGTHS_FT = (4, 12, 25)
PUTTS_EACH = 8


@dataclass(frozen=True, slots=True)
class DemoPlayer:
    """An invented player: the ways of a stroke, means and spreads (SD)."""

    name: str
    backswing_time_s: float
    time_per_metre_s: float
    time_sd_s: float
    ratio: float
    ratio_sd: float
    acceleration_index: float
    length_sd_share: float
    uses_sensor: bool


PLAYERS = (
    DemoPlayer("Nora Velling", 0.90, 0.020, 0.045, 2.85, 0.16, 0.85, 0.05, uses_sensor=False),
    DemoPlayer("Owen Tarrant", 0.66, 0.0, 0.012, 2.02, 0.05, 0.02, 0.025, uses_sensor=True),
)


@dataclass(frozen=True, slots=True)
class DemoPutt:
    """A length of putt, and the head speed that rolls it."""

    length_m: float
    head_speed_m_s: float


def demo_recording(player: DemoPlayer, putt: DemoPutt, *, speed_kept: float, seed: int) -> Recording:
    """Two rehearsal strokes, then the putts, as ``player`` makes them; at contact the head keeps
    the share ``speed_kept`` of its speed."""
    rng = np.random.default_rng([seed, round(1000 * putt.length_m)])
    rehearsals = [_stroke(player, putt, rng, kept=1.0) for _ in range(2)]
    putts = [_stroke(player, putt, rng, kept=speed_kept) for _ in range(PUTTS_EACH)]
    if player.uses_sensor:
        sampling = Sampling(rate_hz=200.0, still_before_s=0.8, return_time_s=1.2)
        return record_inertial([*rehearsals, *putts], rng, sampling, Sensor()).recording
    sampling = Sampling(still_before_s=0.8, return_time_s=1.2)
    return record_trajectory([*rehearsals, *putts], rng, sampling).recording


def _stroke(player: DemoPlayer, putt: DemoPutt, rng: np.random.Generator, *, kept: float) -> StrokeModel:
    back_s = rng.normal(player.backswing_time_s + player.time_per_metre_s * putt.length_m, player.time_sd_s)
    down_s = back_s / rng.normal(player.ratio, player.ratio_sd)
    index = rng.normal(player.acceleration_index, 0.08)
    speed = putt.head_speed_m_s * rng.normal(1.0, player.length_sd_share)
    acceleration = index * speed / down_s
    return StrokeModel(
        backswing_time_s=back_s,
        downswing_time_s=down_s,
        # In the model (downswing power 2) speed v and acceleration a at contact go with B = (4·v·T − a·T²)/6.
        backswing_length_m=(4.0 * speed * down_s - acceleration * down_s**2) / 6.0,
        impact_acceleration_m_s2=acceleration,
        speed_kept=kept,
        follow_through_time_s=rng.normal(0.5, 0.02),
        onset_power=2.5,
        acceleration_after_m_s2=acceleration if kept == 1.0 else -1.0,
        path_angle_rad=rng.normal(0.0, 0.01),
    )
