"""A report that could be real, about people who are not: two invented players and their strokes."""

from __future__ import annotations

import datetime
import math

import numpy as np

from pacewright.core.display import Units
from pacewright.core.finding import Finding
from pacewright.core.measure import Measure, Remark
from pacewright.core.registry import MEASURES
from pacewright.core.station import PuttStation, Station
from pacewright.core.stroke import StrokeCurve
from pacewright.render.model import ReferenceBand, ReportModel, Spread, StrokeRow

COLUMNS = (
    "backswing_time_s",
    "downswing_time_s",
    "time_ratio",
    "backswing_length_m",
    "follow_through_length_m",
    "impact_speed_m_s",
    "impact_acceleration_m_s2",
    "collision_speed_kept",
)
FOOT_M = 0.3048


def curve(back_s: float, down_s: float, back_m: float, through_s: float, kept: float = 0.8) -> StrokeCurve:
    """Minimum-jerk backswing, quarter-cosine downswing, loss at contact, then a fall of speed to rest."""
    first, last = round(-(back_s + down_s + 0.1) / 0.005), round((through_s + 0.1) / 0.005)
    time = np.arange(first, last + 1) * 0.005
    u = np.clip((time + back_s + down_s) / back_s, 0.0, 1.0)
    position = -back_m * (10 * u**3 - 15 * u**4 + 6 * u**5)
    speed = -back_m / back_s * (30 * u**2 - 60 * u**3 + 30 * u**4)
    down = (time > -down_s) & (time <= 0)
    phase = 0.5 * math.pi * (time[down] / down_s + 1.0)
    position[down] = -back_m * np.cos(phase)
    speed[down] = back_m * 0.5 * math.pi / down_s * np.sin(phase)
    after_speed = kept * back_m * 0.5 * math.pi / down_s
    after = time > 0
    s = np.clip(time[after] / through_s, 0.0, 1.0)
    speed[after] = after_speed * (1 - s) ** 2 * (1 + 2 * s)
    position[after] = after_speed * through_s * (s - s**3 + 0.5 * s**4)
    return StrokeCurve(time, position, speed, after_speed)


def row(
    number: int, asked_ft: float, back_s: float, down_s: float, back_m: float, acceleration: float
) -> StrokeRow:
    through_s = 0.55
    made = curve(back_s, down_s, back_m, through_s)
    ratio = back_s / down_s
    return StrokeRow(
        label=str(number),
        kind="putt",
        measures={
            "backswing_time_s": Measure(back_s, 0.008, "events"),
            "downswing_time_s": Measure(down_s, 0.003, "events"),
            "time_ratio": Measure(ratio, ratio * math.hypot(0.008 / back_s, 0.003 / down_s), "events"),
            "backswing_length_m": Measure(back_m, 0.0012, "lengths"),
            "follow_through_length_m": Measure(float(made.position_m[-1]), 0.002, "lengths"),
            "impact_speed_m_s": Measure(back_m * 0.5 * math.pi / down_s, 0.013, "contact"),
            "impact_acceleration_m_s2": Measure(acceleration, 0.4, "contact"),
            "collision_speed_kept": Measure(0.8, 0.012, "contact"),
        },
        takeaway_time_s=-(back_s + down_s),
        top_time_s=-down_s,
        finish_time_s=through_s,
        curve=made,
        asked_length_m=asked_ft * FOOT_M,
    )


RUSHED = (
    (3, 0.88, 0.335, 0.150, 1.1), (3, 0.93, 0.328, 0.158, 1.4), (3, 0.86, 0.341, 0.149, 0.7),
    (10, 1.01, 0.331, 0.262, 2.2), (10, 0.97, 0.318, 0.251, 2.9), (10, 1.06, 0.322, 0.287, 2.6),
    (30, 1.12, 0.309, 0.431, 3.8), (30, 1.06, 0.301, 0.402, 4.3), (30, 1.17, 0.297, 0.446, 4.9),
)  # fmt: skip


def _spread(measure: str, rows: tuple[StrokeRow, ...]) -> Spread:
    values = [r.measures[measure].value for r in rows if r.kind == "putt"]
    return Spread(measure, float(np.mean(values)), float(np.std(values, ddof=1)), len(values))


FINDINGS = (
    Finding(
        id="long-backswing-rushed-downswing", severity="act", confidence="high",
        statement="A long, slow backswing forces a rushed downswing that is still speeding up at the ball.",
        evidence="Backswing time 1.01 ± 0.03 s and time ratio 3.15 ± 0.12 over 9 putts; "
        "acceleration at contact +4.3 ± 0.3 m/s² at 30 ft against +1.1 ± 0.3 m/s² at 3 ft.",
        cause="The backswing takes longer the farther the putt, the downswing shorter; the speed "
        "that is missing has to be found in the last tenth of a second, where errors of time cost most.",
        advice="Shorten the way back to the blue marker and let the second beat turn it round. Start "
        "with the 3-foot station until the ratio stays under 2.4, then alternate lengths.",
        source="Reference band 1.8 to 2.4: common practice, no published source.",
        stroke_indices=tuple(range(9)),
        chain=("slow-backswing", "ratio-above-band", "speeding-up-at-contact"),
    ),
    Finding(
        id="time-changes-with-length", severity="watch", confidence="fair",
        statement="The time of the stroke changes with the length of the putt.",
        evidence="Takeaway to contact 1.22 ± 0.03 s at 3 ft and 1.42 ± 0.04 s at 30 ft.",
        cause="Length is added to the backswing at much the same pace, so longer putts take longer.",
        advice="Keep one beat for every station; change the markers, not the beat.",
        source="Studies differ on whether players keep time across lengths; this is the player's own.",
        stroke_indices=(0, 1, 2, 6, 7, 8),
    ),
    Finding(
        id="few-strokes", severity="note", confidence="low",
        statement="Three strokes at each length are few to judge repeats by.",
        evidence="9 putts, 3 at each of 3 lengths.",
        cause="", advice="Record ten at each length to see how even they are.", source="", stroke_indices=(),
    ),
)  # fmt: skip


def sample_station(putts_ft: tuple[float, ...] = (3.0, 10.0, 30.0)) -> Station:
    """Stations by the half-cosine law with equal markers; a 30-ft putt needs 0.45 m each way."""
    beat = 60.0 / 90.0
    stations = []
    for feet in putts_ft:
        launch = math.sqrt(2 * 0.55 * (feet * FOOT_M + 0.3)) * 1.08
        head = launch / 1.58
        marker = head * beat / math.pi
        warnings = ()
        if marker > 0.5:
            warnings = (
                Remark("beat-too-slow", "Needs a backswing over 50 cm at this beat; try 104 a minute."),
            )
        stations.append(
            PuttStation(
                putt_length_m=feet * FOOT_M,
                launch_speed_m_s=launch,
                head_speed_m_s=head,
                back_marker_m=marker,
                through_marker_m=marker,
                back_marker_band_m=(marker * 0.955, marker * 1.043),
                distance_tolerance_m=0.3,
                beat_interval_s=beat,
                backswing_time_s=beat,
                downswing_time_s=beat / 2,
                time_ratio=2.0,
                impact_acceleration_m_s2=0.0,
                warnings=warnings,
            )
        )
    return Station(90.0, 1.571, 0.021, "this player's own, from 9 strokes", tuple(stations))


def sample_report(units: Units = "metric", player: str = "Ines Marchbank", repeats: int = 1) -> ReportModel:
    """The report of a player who rushes; ``repeats`` lays the same nine putts end to end."""
    putts = [row(k + 1, *values) for k, values in enumerate(RUSHED * repeats)]
    rehearsal = StrokeRow(
        label="R1", kind="rehearsal", measures={"backswing_time_s": Measure(0.9, 0.01)},
        remarks=(Remark("rehearsal", "No ball was met."),),
    )  # fmt: skip
    rows = (*putts, rehearsal)
    return ReportModel(
        title="Putting strokes", player=player, date=datetime.date(2025, 5, 17), units=units,
        recordings=("calloway-practice-green.csv, 240 samples a second, head and ball",), rows=rows,
        columns=COLUMNS, drawn_row=4, beat_times_s=(-0.318 - 2 / 3, -0.318, -0.318 + 2 / 3),
        recording_remarks=(
            Remark("gap", "14 samples are missing between 41.20 s and 41.26 s, no stroke there."),
        ),
        spreads=tuple(_spread(name, rows) for name in (
            "backswing_time_s", "downswing_time_s", "time_ratio", "impact_acceleration_m_s2")),
        bands=(
            ReferenceBand("backswing_time_s", 0.55, 0.8, "common practice"),
            ReferenceBand("time_ratio", 1.8, 2.4, "common practice"),
        ),
        findings=FINDINGS, station=sample_station(), green="10 ft (3.05 m), level",
        caution="A report describes the strokes that were recorded. It does not replace a coach's eye; stop "
        "on pain and see a qualified health professional.",
        definitions=tuple(MEASURES[name] for name in COLUMNS),
    )  # fmt: skip
