"""Use case: the whole job on two invented players, and a check on real recordings."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pacewright.app.assessment import (
    Assessment,
    AssessOptions,
    across_recordings,
    assess,
    assessment_dict,
    strokes_table,
)
from pacewright.app.files import write_whole
from pacewright.app.outputs import BeatPlan, write_beats, write_report, write_strip
from pacewright.app.putting import launch_for_length
from pacewright.app.report import ReportOptions, green_text, report_model
from pacewright.app.stations import build_station
from pacewright.ball.impact import ball_speed_ratio, head_speed_kept
from pacewright.core.equipment import Putter
from pacewright.core.finding import Finding
from pacewright.core.green import Green
from pacewright.core.recording import FloatArray, Recording
from pacewright.core.station import Station
from pacewright.core.stroke import Stroke
from pacewright.core.units import FOOT_M
from pacewright.readers import ReadOptions
from pacewright.simulate.demo_club import CLUB, PLAYERS, PUTT_LENGTHS_FT, DemoPlayer, DemoPutt, demo_recording

REAL = Path(__file__).parent / "data" / "real"
GREEN = Green(speed_m=10 * FOOT_M, name=f"{CLUB}, practice green")
PENDULUM_ARC_M = 0.5
"""Only a scale: the encoder measures an angle, and its figures are compared as turns and rates."""


@dataclass(frozen=True, slots=True)
class PlayerResult:
    """What the demo made for one player."""

    player: DemoPlayer
    assessments: list[Assessment]
    across: list[Finding]
    station: Station
    folder: Path


@dataclass(frozen=True, slots=True)
class SwingCheck:
    """A swing of the real pendulum: where it turns, and its rate where it passes its rest."""

    turning_time_s: float
    encoder_turning_time_s: float
    rate_rad_s: float
    encoder_rate_rad_s: float


@dataclass(frozen=True, slots=True)
class RealResult:
    """What the real recordings show: the pendulum against its encoder, and no stroke where there is none."""

    swings: list[SwingCheck]
    strokes_invented: int
    remark: str


def demo_player(player: DemoPlayer, out: Path, seed: int, said: Callable[[str], None]) -> PlayerResult:
    """Record, assess, and hand over: everything for one player into a folder of ``out``."""
    folder = out / player.name.lower().replace(" ", "-")
    folder.mkdir(parents=True, exist_ok=True)
    putter = Putter()
    lengths_m = [feet * FOOT_M for feet in PUTT_LENGTHS_FT]
    paths = []
    for feet, length_m in zip(PUTT_LENGTHS_FT, lengths_m, strict=True):
        speed = launch_for_length(length_m, GREEN).launch_speed_m_s / ball_speed_ratio(putter)
        recording = demo_recording(
            player, DemoPutt(length_m, speed), speed_kept=head_speed_kept(putter), seed=seed
        )
        paths.append(folder / f"putts-{feet:02d}ft.csv")
        write_whole(paths[-1], recording_csv(recording).encode())
    said(f"{player.name}: {len(paths)} recordings made up")
    options = AssessOptions(
        read=ReadOptions(arc_radius_m=1.35 if player.uses_sensor else None),
        green=GREEN,
        putter=putter,
        asked_length_m=tuple(lengths_m),
    )
    assessments = assess(paths, options)
    strokes = [stroke for assessment in assessments for stroke in assessment.strokes]
    said(f"{player.name}: {len(strokes)} strokes measured")
    station = build_station(lengths_m, GREEN, strokes=[s for s in strokes if s.kind == "putt"])
    _hand_over(player, folder, assessments, station)
    said(f"{player.name}: report, strip, beats and tables written")
    return PlayerResult(player, assessments, across_recordings(assessments, options), station, folder)


def _hand_over(player: DemoPlayer, folder: Path, assessments: list[Assessment], station: Station) -> None:
    report = ReportOptions(
        player=f"{player.name} (invented)",
        title=f"Putting strokes, {CLUB}",
        green=GREEN,
        putt_lengths_m=tuple(one.putt_length_m for one in station.stations),
    )
    model = report_model(assessments, report)
    for name in ("report.pdf", "report.html"):
        write_report(model, folder / name)
    write_strip(station, folder / "strip.pdf", green=green_text(GREEN, "metric"))
    write_beats(BeatPlan(beats_per_minute=station.beats_per_minute), folder / "beats.wav")
    printed = json.dumps([assessment_dict(one) for one in assessments], indent=2)
    write_whole(folder / "assessment.json", printed.encode())
    write_whole(folder / "strokes.csv", strokes_table(assessments).encode())


def recording_csv(recording: Recording) -> str:
    """A recording as CSV in our own column names, as another program would have written it."""
    names = {"head": "head_{}_m", "gyro": "gyro_{}_rad_s", "accel": "accel_{}_m_s2"}
    traces = list(recording.traces.items())
    header = ["time_s"] + [names[name].format(axis) for name, trace in traces for axis in trace.axes]
    table = np.column_stack([traces[0][1].time_s, *(trace.values for _, trace in traces)])
    rows = "\n".join(",".join(f"{value:.6f}" for value in row) for row in table)
    return ",".join(header) + "\n" + rows + "\n"


def check_real_recordings() -> RealResult:
    """Measure the real pendulum's swings against its encoder; find no stroke in a hand-held sensor's file."""
    swings = _pendulum_swings()
    (handheld,) = assess([REAL / "handheld" / "handheld.csv"])
    remark = next((r.text for r in handheld.remarks if r.code == "no-stroke"), "")
    return RealResult(swings, len(handheld.strokes), remark)


def _pendulum_swings() -> list[SwingCheck]:
    """Swings found in the encoder's angle, against plain cubics through the few samples at each event.

    The rig's own rate is no yardstick: it is filtered and lags by some 10 ms.
    """
    swings = []
    for name in ("swing-up.csv", "driven.csv"):
        path = REAL / "pendulum" / name
        columns = {"time_s": "time", "head_angle_rad": "position"}
        (assessment,) = assess(
            [path], AssessOptions(read=ReadOptions(columns=columns, arc_radius_m=PENDULUM_ARC_M))
        )
        rig = np.loadtxt(path, delimiter=",", skiprows=1)
        swings += [_against_encoder(stroke, rig[:, 0], rig[:, 1]) for stroke in assessment.strokes]
    return swings


def _against_encoder(stroke: Stroke, time_s: FloatArray, angle_rad: FloatArray) -> SwingCheck:
    top_s, passing_s = stroke.events["top"].value, stroke.events["impact"].value

    def cubic(around_s: float) -> np.polynomial.Polynomial:
        near = np.abs(time_s - around_s) < 0.08
        return np.polynomial.Polynomial.fit(time_s[near], angle_rad[near], 3)

    turns = cubic(top_s).deriv().roots()
    nearest = min(turns[np.isreal(turns)].real, key=lambda root: abs(root - top_s))
    rate = float(cubic(passing_s).deriv()(passing_s))
    ours = stroke.value("impact_speed_m_s") / PENDULUM_ARC_M
    return SwingCheck(top_s, float(nearest), ours, rate)


def run_demo(out: Path, said: Callable[[str], None]) -> tuple[list[PlayerResult], RealResult]:
    """Run the demo into ``out``; ``said`` is called with a line as each step is done."""
    out.mkdir(parents=True, exist_ok=True)
    results = [demo_player(player, out, seed, said) for seed, player in enumerate(PLAYERS, start=1)]
    said("Real recordings: the pendulum and the hand-held sensor")
    return results, check_real_recordings()
