"""Use case: what a report shows, from assessments, norms and a station."""

from __future__ import annotations

import datetime
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pacewright.app.answers import PuttTables, answer_definitions, putts_answers
from pacewright.app.assessment import Assessment, across_recordings
from pacewright.app.stations import build_station
from pacewright.coaching.norms import norms
from pacewright.core.display import Units, format_putt_length_both
from pacewright.core.equipment import Putter
from pacewright.core.finding import Finding
from pacewright.core.green import Green
from pacewright.core.measure import Remark
from pacewright.core.registry import MEASURES, MeasureDefinition
from pacewright.core.station import Station
from pacewright.core.stroke import Stroke
from pacewright.render.model import ReferenceBand, ReportModel, Spread, StrokeRow

_COLUMNS = (
    "backswing_time_s",
    "top_pause_s",
    "downswing_time_s",
    "time_ratio",
    "backswing_length_m",
    "follow_through_length_m",
    "impact_speed_m_s",
    "impact_acceleration_m_s2",
    "ball_speed_m_s",
    "roll_out_m",
)
_AVERAGED = ("backswing_time_s", "downswing_time_s", "time_ratio", "impact_acceleration_index")
_NO_PAUSE_S = 0.02

_STATION_DEFINITIONS = (
    MeasureDefinition("back_marker_m", "", "Back marker",
        "Where the face turns: distance behind the back of the ball.", "station"),
    MeasureDefinition("back_marker_band_m", "", "Room at the back",
        "Back markers that keep the roll-out within the stated distance of the aim.", "station"),
    MeasureDefinition("through_marker_m", "", "Through marker",
        "What the stroke swings towards, beyond the back of the ball; the head rests a little short of it.",
        "station"),
    MeasureDefinition("launch_speed_m_s", "", "Ball speed of a station",
        "Speed with which the ball has to leave the face to roll the length of the putt.", "station"),
    MeasureDefinition("swing_constant", "", "Constant",
        "c in head speed = c times backswing length over downswing time.", "station"),
)  # fmt: skip

CAUTION = (
    "A report describes the strokes and putts that were recorded, with their uncertainty; it does not "
    "replace a coach's eye. Take breaks, stop on pain, and see a qualified health professional if pain stays."
)


@dataclass(frozen=True, slots=True)
class ReportOptions:
    """What the report is about, and the station to practise on.

    The station is made when there is a green and a length: ``putt_lengths_m``, or else the lengths that were
    asked when the strokes were recorded. ``date`` None is today. ``tables`` of putts add their answers.
    """

    player: str = ""
    title: str = ""
    date: datetime.date | None = None
    units: Units = "metric"
    green: Green | None = None
    putt_lengths_m: tuple[float, ...] = ()
    beats_per_minute: float = 90.0
    putter: Putter = field(default_factory=Putter)
    tables: PuttTables = field(default_factory=PuttTables)


def report_model(assessments: Sequence[Assessment], options: ReportOptions | None = None) -> ReportModel:
    """The report on all strokes of one player, numbered through from 1 in the order of the recordings.

    Without recordings it holds the answers of the tables alone. Raises as `app.answers.putts_answers`.
    """
    options = options or ReportOptions()
    answers = putts_answers(options.tables, options.units)
    strokes = [stroke for assessment in assessments for stroke in assessment.strokes]
    putts = [stroke for stroke in strokes if stroke.kind == "putt"]
    rows = tuple(_row(number, stroke) for number, stroke in enumerate(strokes, start=1))
    columns = tuple(name for name in _COLUMNS if _is_worth_a_column(name, strokes))
    spreads = tuple(filter(None, (_spread(name, putts) for name in _AVERAGED)))
    station = _station(putts, options)
    drawn = _drawn_row(rows)
    return ReportModel(
        title=options.title or ("Putting strokes" if strokes else "Putts"),
        player=options.player,
        date=options.date or datetime.date.today(),
        units=options.units,
        recordings=tuple(_recording_text(assessment) for assessment in assessments),
        rows=rows,
        columns=columns,
        caution=CAUTION,
        definitions=_definitions(columns, spreads, station) + answer_definitions(answers),
        recording_remarks=_remarks(assessments),
        drawn_row=drawn,
        beat_times_s=_beat_times(rows, drawn, station),
        spreads=spreads,
        bands=_bands(),
        findings=_findings(assessments),
        station=station,
        green=green_text(options.green, options.units),
        answers=answers,
    )


def _row(number: int, stroke: Stroke) -> StrokeRow:
    impact_s = stroke.events["impact"].value if "impact" in stroke.events else math.nan

    def from_contact(event: str) -> float:
        return stroke.events[event].value - impact_s if event in stroke.events else math.nan

    return StrokeRow(
        label=str(number),
        kind=stroke.kind,
        measures=stroke.measures,
        takeaway_time_s=from_contact("takeaway"),
        top_time_s=from_contact("top"),
        finish_time_s=from_contact("finish"),
        curve=stroke.curve,
        asked_length_m=stroke.asked_length_m,
        remarks=tuple(remark for remark in stroke.quality if remark.code != "contact-not-seen"),
    )


def _is_worth_a_column(name: str, strokes: Sequence[Stroke]) -> bool:
    """Whether any stroke has the measure; pauses only where one is longer than an instant."""
    values = [stroke.value(name) for stroke in strokes if math.isfinite(stroke.value(name))]
    return bool(values) and (name != "top_pause_s" or max(values) > _NO_PAUSE_S)


def _spread(name: str, putts: Sequence[Stroke]) -> Spread | None:
    values = [putt.value(name) for putt in putts if math.isfinite(putt.value(name))]
    if not values:
        return None
    between = statistics.stdev(values) if len(values) > 1 else math.nan
    return Spread(name, statistics.fmean(values), between, len(values))


def _drawn_row(rows: Sequence[StrokeRow]) -> int | None:
    """The putt with the middle time ratio among those with a curve: the usual stroke, not the best."""
    shown = [k for k, row in enumerate(rows) if row.kind == "putt" and row.curve is not None]
    with_ratio = [k for k in shown if "time_ratio" in rows[k].measures]
    ordered = sorted(with_ratio, key=lambda k: rows[k].measures["time_ratio"].value) or shown
    return ordered[len(ordered) // 2] if ordered else None


def _beat_times(rows: Sequence[StrokeRow], drawn: int | None, station: Station | None) -> tuple[float, ...]:
    """Start, back and through with the second beat at the top of the drawn stroke."""
    if station is None or drawn is None or not math.isfinite(rows[drawn].top_time_s):
        return ()
    top_s, beat_s = rows[drawn].top_time_s, 60.0 / station.beats_per_minute
    return (top_s - beat_s, top_s, top_s + beat_s)


def _bands() -> tuple[ReferenceBand, ...]:
    return tuple(
        ReferenceBand(norm.measure, norm.low, norm.high, norm.source)
        for norm in norms().values()
        if norm.measure and math.isfinite(norm.low) and math.isfinite(norm.high)
    )


def _findings(assessments: Sequence[Assessment]) -> tuple[Finding, ...]:
    """Findings over all strokes together, which are numbered as the rows are."""
    if not assessments:
        return ()
    if len(assessments) == 1:
        return assessments[0].findings
    return tuple(across_recordings(assessments))


def _station(putts: Sequence[Stroke], options: ReportOptions) -> Station | None:
    asked = {putt.asked_length_m for putt in putts if putt.asked_length_m is not None}
    lengths = options.putt_lengths_m or tuple(sorted(asked))
    if options.green is None or not lengths:
        return None
    return build_station(
        lengths,
        options.green,
        beats_per_minute=options.beats_per_minute,
        putter=options.putter,
        strokes=tuple(putts),
    )


def _definitions(
    columns: Sequence[str], spreads: Sequence[Spread], station: Station | None
) -> tuple[MeasureDefinition, ...]:
    shown = {*columns, *(spread.measure for spread in spreads)}
    listed = tuple(definition for name, definition in MEASURES.items() if name in shown)
    return listed + (_STATION_DEFINITIONS if station is not None else ())


def _remarks(assessments: Sequence[Assessment]) -> tuple[Remark, ...]:
    """What the recordings say of themselves; with the name of each where there are several."""
    if len(assessments) == 1:
        return assessments[0].remarks
    return tuple(
        Remark(remark.code, f"{Path(assessment.source).name}: {remark.text}")
        for assessment in assessments
        for remark in assessment.remarks
    )


def _recording_text(assessment: Assessment) -> str:
    recording = assessment.recording
    seen = {
        "trajectory": "path of the head" + (" and the ball" if "ball" in recording.traces else ""),
        "inertial": "inertial sensor",
        "timing": "timed by hand",
    }[recording.kind]
    rate = f", {recording.rate_hz:.0f} samples a second" if math.isfinite(recording.rate_hz) else ""
    mirrored = ", left-handed (mirrored)" if recording.mirrored else ""
    return f"{Path(assessment.source).name}: {seen}{rate}{mirrored}"


def green_text(green: Green | None, units: Units) -> str:
    """Speed of a green in both systems and its slope, as on a report; empty without one."""
    if green is None:
        return ""
    slope = 100.0 * math.tan(green.slope_rad)
    lie = "level" if slope == 0.0 else f"{abs(slope):.3g} % {'up' if slope > 0 else 'down'}hill"
    return f"{format_putt_length_both(green.speed_m, units)}, {lie}"
