"""The practice station: from the speed that a putt needs to two markers and a beat.

The movement law: with markers B behind the ball and F ahead of it and a beat of P seconds, a half cosine
from −B to +F passes the ball P/π·arccos((F−B)/(F+B)) after the top, at speed (F+B)/2·π/P·sin(that angle) and
acceleration (π/P)²·(F−B)/2. Beats: start moving on 1, back marker on 2, through marker on 3.
Method page: docs/methods/station.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from pacewright.coaching.norms import norm
from pacewright.coaching.player_words import habit_sentences
from pacewright.coaching.swing import Swing
from pacewright.coaching.words import putt_lengths
from pacewright.core.display import format_both, format_number
from pacewright.core.errors import SettingsError
from pacewright.core.measure import Measure, Remark
from pacewright.core.station import PuttStation, Station

_BEATS_AT_ALL = (20.0, 300.0)


@dataclass(frozen=True, slots=True)
class PuttDemand:
    """What a putt needs: the launch speed to the aim, and those that end ``distance_tolerance_m`` short and
    long of it."""

    putt_length_m: float
    launch_speed_m_s: float
    launch_speed_low_m_s: float
    launch_speed_high_m_s: float
    distance_tolerance_m: float


@dataclass(frozen=True, slots=True)
class Passing:
    """Where a movement between two markers passes the ball: time after the top, speed, acceleration."""

    time_s: float
    speed_m_s: float
    acceleration_m_s2: float


def passing(back_m: float, through_m: float, beat_interval_s: float) -> Passing:
    """The movement law (see the module); both markers above zero."""
    middle = (through_m - back_m) / (through_m + back_m)
    angle = math.acos(middle)
    rate = math.pi / beat_interval_s
    return Passing(
        time_s=angle / rate,
        speed_m_s=(through_m + back_m) / 2.0 * rate * math.sin(angle),
        acceleration_m_s2=rate**2 * (through_m - back_m) / 2.0,
    )


def law_constant(through_ratio: float) -> float:
    """Constant c in speed = c·B/T of the movement law with F = ``through_ratio``·B; π/2 for equal markers."""
    one = passing(1.0, through_ratio, 1.0)
    return one.speed_m_s * one.time_s


def plan_station(demands: Sequence[PuttDemand], *, beats_per_minute: float, swing: Swing) -> Station:
    """Markers for each putt at one beat. Raises SettingsError for a beat that nobody keeps, or no putt."""
    slowest, quickest = _BEATS_AT_ALL
    if not (math.isfinite(beats_per_minute) and slowest <= beats_per_minute <= quickest):
        raise SettingsError(
            f"A beat of {beats_per_minute:g} a minute is outside {slowest:g} to {quickest:g}; "
            f"{norm('beat').value:g} is one to start from."
        )
    if not demands:
        raise SettingsError("A station needs at least one putt; give its length, such as 10ft.")
    through_ratio = min(
        max(swing.through_ratio.value, norm("through-marker").low), norm("through-marker").high
    )
    stations = tuple(_putt_station(d, beats_per_minute, swing, through_ratio) for d in demands)
    return Station(
        beats_per_minute=beats_per_minute,
        swing_constant=swing.constant.value,
        swing_constant_sd=swing.constant.sd,
        constant_source=swing.source,
        stations=stations,
        warnings=_station_warnings(stations, beats_per_minute, swing),
        ball_speed_ratio=swing.ball_speed_ratio.value,
        ball_speed_ratio_sd=swing.ball_speed_ratio.sd,
        notes=tuple(habit_sentences(swing.model)) if swing.model is not None else (),
    )


def _putt_station(
    demand: PuttDemand, beats_per_minute: float, swing: Swing, through_ratio: float
) -> PuttStation:
    beat_s = 60.0 / beats_per_minute
    downswing_s = passing(1.0, through_ratio, beat_s).time_s

    def marker(launch_speed_m_s: float) -> float:
        return swing.backswing_for(launch_speed_m_s / swing.ball_speed_ratio.value, downswing_s)

    back_m = marker(demand.launch_speed_m_s)
    through_m = through_ratio * back_m
    constant = swing.constant_for(back_m)
    return PuttStation(
        putt_length_m=demand.putt_length_m,
        launch_speed_m_s=demand.launch_speed_m_s,
        head_speed_m_s=demand.launch_speed_m_s / swing.ball_speed_ratio.value,
        back_marker_m=back_m,
        through_marker_m=through_m,
        back_marker_band_m=(marker(demand.launch_speed_low_m_s), marker(demand.launch_speed_high_m_s)),
        distance_tolerance_m=demand.distance_tolerance_m,
        beat_interval_s=beat_s,
        backswing_time_s=beat_s,
        downswing_time_s=downswing_s,
        time_ratio=beat_s / downswing_s,
        impact_acceleration_m_s2=passing(back_m, through_m, beat_s).acceleration_m_s2,
        warnings=_length_warnings(back_m, beats_per_minute),
        back_marker_sd_m=back_m * swing.relative_sd(back_m),
        head_rests_m=swing.head_speed_kept.value * through_m,
        swing_constant=constant.value,
        swing_constant_sd=constant.sd,
    )


def _length_warnings(back_m: float, beats_per_minute: float) -> tuple[Remark, ...]:
    """A warning when the backswing would be no putting stroke, and the beat at which it would be one.

    At one speed the length of the backswing goes with the beat interval.
    """
    limits, beats = norm("marker-length"), norm("beat")
    if limits.low <= back_m <= limits.high:
        return ()
    too_long = back_m > limits.high
    limit = limits.high if too_long else limits.low
    wanted = beats_per_minute * back_m / limit
    beat = math.ceil(wanted) if too_long else math.floor(wanted)
    says = (
        f"At {beats_per_minute:g} beats a minute this putt asks for a backswing of "
        f"{format_both(back_m, 'stroke_length')}; "
        f"{'over' if too_long else 'under'} {format_both(limit, 'stroke_length')} is no putting stroke. "
    )
    if beats.low <= beat <= beats.high:
        says += f"Use {beat} beats a minute or {'more' if too_long else 'fewer'}."
    elif too_long:
        says += (
            f"It would take {beat} beats a minute, quicker than a stroke can keep: practise a shorter putt."
        )
    else:
        says += f"It would take {beat} beats a minute, slower than a stroke can keep: practise a longer putt."
    return (Remark("backswing-too-long" if too_long else "backswing-too-short", says),)


def _station_warnings(
    stations: Sequence[PuttStation], beats_per_minute: float, swing: Swing
) -> tuple[Remark, ...]:
    warnings = [
        _unusual_beat(beats_per_minute),
        _unusual_constant(swing.constant),
        _held_marker(swing.through_ratio),
        _unsure(stations, swing),
    ]
    return tuple(warning for warning in warnings if warning is not None)


def _unusual_beat(beats_per_minute: float) -> Remark | None:
    beats = norm("beat")
    if beats.low <= beats_per_minute <= beats.high:
        return None
    text = f"Few players keep {beats_per_minute:g} beats a minute; {beats.low:g} to {beats.high:g} is usual."
    return Remark("beat-unusual", text)


def _unusual_constant(constant: Measure) -> Remark | None:
    """A warning that the markers fit a stroke that practice on them may change."""
    usual = norm("swing-constant")
    if usual.low <= constant.value <= usual.high:
        return None
    more, out = ("more", "out") if constant.value > usual.high else ("less", "in")
    return Remark(
        "constant-unusual",
        f"This player makes {more} speed from a backswing than equal markers would (constant "
        f"{constant.value:.2f}; {usual.value:.2f} for equal markers). The markers fit the stroke as it is "
        f"now: move the back marker {out} as the stroke gets steadier.",
    )


def _held_marker(ratio: Measure) -> Remark | None:
    limits = norm("through-marker")
    if limits.low <= ratio.value <= limits.high:
        return None
    where, what = (
        (limits.high, "speed up through the ball")
        if ratio.value > limits.high
        else (limits.low, "brake into it")
    )
    return Remark(
        "through-marker-held",
        f"This player's own follow-through would put the through marker at {ratio.value:.2g} times the back "
        f"marker. It is held at {where:.2g} times, so that the station does not teach to {what}.",
    )


def _unsure(stations: Sequence[PuttStation], swing: Swing) -> Remark | None:
    """A warning when the markers are not known well enough for the distance error that is allowed.

    Roll-out goes with the square of speed, so a share of speed is twice that share of distance.
    """

    def of_distance(one: PuttStation) -> float:
        return 2.0 * one.back_marker_sd_m / one.back_marker_m

    unsure = [one for one in stations if of_distance(one) > one.distance_tolerance_m / one.putt_length_m]
    if not unsure:
        return None
    off = f"about {format_number(100.0 * max(map(of_distance, unsure)), 0)} % of the distance"
    if swing.strokes == 0:
        text = (
            f"The markers are the textbook's; for one player they may be off by {off}. Putt, then move them."
        )
    else:
        which = (
            "" if len(unsure) == len(stations) else f" of {putt_lengths([s.putt_length_m for s in unsure])}"
        )
        text = (
            f"The markers{which} rest on few strokes, or on strokes of other lengths, and may be off by "
            f"{off}. Putt, then move them."
        )
    return Remark("markers-unsure", text)
