"""From a recording to its strokes: find, fit, measure, and remark on what the data cannot carry."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from pacewright.core.errors import QualityError
from pacewright.core.measure import Measure, Remark
from pacewright.core.recording import FloatArray, Recording
from pacewright.core.stroke import Stroke, StrokeKind
from pacewright.signals.glitches import glitches
from pacewright.stroke import measures as measure
from pacewright.stroke.curve import stroke_curve
from pacewright.stroke.events import FEWEST_SAMPLES, FittedEvents, fit_events
from pacewright.stroke.find import STILL_ENOUGH_S, RoughStroke, find_strokes
from pacewright.stroke.inertial import swing_motion, turns_about_axis
from pacewright.stroke.launch import ball_departure, ball_measures
from pacewright.stroke.motion import HeadMotion
from pacewright.stroke.timed import timed_stroke

FEWEST_IN_DOWNSWING = 10
OFF_LINE_SHARE = 0.35
_STILL_BIAS_SHARE = 1 / 3
"""Of the lasting errors of place, what is left where a head hardly moves: the picture is the same there, and
its scatter tells nothing of them (ours, from rendered clips)."""
_AROUND_S = 1.0
BIAS_LASTS_S = 0.03
"""How long errors of place in pictures last: an error of δ that long bends the curve by δ over its square."""
LONGEST_WAGGLE_M = 0.075
FASTEST_WAGGLE_M_S = 0.6
"""So short and slow, a swing that does not clearly meet a ball is a waggle (common practice, no source)."""
BALL_NEAR_ADDRESS_M = 0.06
FASTEST_CHANGE_M_S = 2.5
"""No head changes its speed by more than this within a step, not even at contact: what does is a glitch."""


def analyse(
    recording: Recording, *, with_curve: bool = True, progress: Callable[[float], None] | None = None
) -> list[Stroke]:
    """Every stroke and rehearsal stroke in ``recording``, in order of time.

    An empty list means that no putting stroke is in it. Strokes whose figures cannot be carried by
    the data (too few samples) are left out of the list only when not even their events can be fitted.
    ``progress`` is called with the share of strokes measured, 0 to 1.
    """
    return list(strokes_of(recording, with_curve=with_curve, progress=progress))


def strokes_of(
    recording: Recording, *, with_curve: bool = True, progress: Callable[[float], None] | None = None
) -> Iterator[Stroke]:
    """As `analyse`, one by one as they are measured."""
    if recording.kind == "timing":
        yield from (timed_stroke(t, recording, k) for k, t in enumerate(recording.timed_strokes))
        return
    motion, lateral = head_motion(recording)
    if motion is None or motion.time_s.size < FEWEST_SAMPLES:
        return
    found = find_strokes(motion)
    count = 0
    for k, rough in enumerate(found):
        if progress is not None:
            progress(k / len(found))
        if not _swings_like_a_putter(recording, motion, rough):
            continue
        stroke = _measured(recording, motion, lateral, rough, with_curve=with_curve)
        if stroke is not None:
            yield replace(stroke, index=count, source=recording.provenance.source)
            count += 1


def head_motion(recording: Recording) -> tuple[HeadMotion | None, FloatArray | None]:
    """The head along the target line, and sideways where that was recorded; None when it never swings."""
    if recording.kind == "inertial":
        return swing_motion(recording), None
    head = recording.traces["head"]
    x = head.axis("x")
    if x is None:
        raise QualityError("The head's place along the target line (x) was not recorded.")
    good = ~glitches(head.time_s, x, FASTEST_CHANGE_M_S)
    y = head.axis("y")
    motion = HeadMotion(
        head.time_s[good], x[good], x[good], 0, None, recording.scale_relative_sd,
        least_noise=_STILL_BIAS_SHARE * recording.place_bias_m,
    )  # fmt: skip
    return motion, None if y is None else y[good]


def _ball_lies_at_zero(motion: HeadMotion, rough: RoughStroke) -> bool:
    """Whether the stroke agrees with the frame: zero is passed on the way down, and lies near the address."""
    top, end = (motion.position_at(t) for t in (rough.top_s[1], rough.end_s))
    stood_there = (
        rough.still_s < STILL_ENOUGH_S or abs(motion.position_at(rough.onset_s)) < BALL_NEAR_ADDRESS_M
    )
    return top < -0.01 and end > 0.01 and stood_there


def _swings_like_a_putter(recording: Recording, motion: HeadMotion, rough: RoughStroke) -> bool:
    """Forward along one line and low, or about one axis: what a walk or another sport's swing does not."""
    if recording.kind == "inertial":
        return turns_about_axis(recording, motion, rough)
    head = recording.traces["head"]
    along = float(np.ptp(motion.position_m[motion.between(rough.onset_s, rough.end_s)]))
    stroke = slice(*np.searchsorted(head.time_s, [rough.onset_s, rough.end_s]))
    across = [head.axis(name) for name in ("y", "z")]
    return all(float(np.ptp(a[stroke])) <= OFF_LINE_SHARE * along for a in across if a is not None)


def _measured(
    recording: Recording, motion: HeadMotion, lateral: FloatArray | None, rough: RoughStroke, *,
    with_curve: bool,
) -> Stroke | None:  # fmt: skip
    part = motion.between(rough.onset_s - _AROUND_S, rough.end_s + _AROUND_S)
    motion = motion.cropped(rough.onset_s - _AROUND_S, rough.end_s + _AROUND_S)
    lateral = lateral[part] if lateral is not None else None
    if recording.kind == "trajectory" and _ball_lies_at_zero(motion, rough):
        motion = replace(motion, place_m=0.0)
    ball = ball_departure(recording, rough.top_s[1], rough.end_s)
    try:
        fitted = fit_events(motion, rough, ball)
    except (QualityError, np.linalg.LinAlgError):
        return None
    if not _is_sane(fitted):
        return None
    figures = measure.timing_measures(fitted) | measure.length_measures(motion, fitted)
    figures |= measure.contact_measures(motion, fitted)
    kind: StrokeKind = "putt" if fitted.met_a_ball else "rehearsal"
    figures["impact_acceleration_m_s2"] = with_place_bias(figures["impact_acceleration_m_s2"], recording)
    if ball is not None:
        figures |= ball_measures(ball, figures["impact_speed_m_s"], recording.scale_relative_sd)
    figures["smoothness_sparc"] = measure.smoothness(motion, fitted)
    figures["backswing_time_threshold_s"] = measure.threshold_backswing_time(motion, fitted)
    if lateral is not None:
        figures["path_angle_deg"] = measure.path_angle(motion, lateral, fitted)
    met_clearly = kind == "putt" and fitted.ball_is_clear
    short = figures["backswing_length_m"].value < LONGEST_WAGGLE_M
    if not met_clearly and short and figures["impact_speed_m_s"].value < FASTEST_WAGGLE_M_S:
        return None
    if kind == "rehearsal":
        figures.pop("collision_speed_kept")
    known = {name: m for name, m in figures.items() if m.is_known}
    curve = stroke_curve(motion, fitted) if with_curve else None
    return Stroke(kind, _events(fitted), known, _remarks(motion, fitted, kind, recording), curve)


def with_place_bias(bend: Measure, recording: Recording) -> Measure:
    """Acceleration (m/s²) with what lasting errors of place make of it, which no fit sees."""
    unseen_m_s2 = recording.place_bias_m / BIAS_LASTS_S**2
    return replace(bend, sd=float(np.hypot(bend.sd, unseen_m_s2)))


def _is_sane(fitted: FittedEvents) -> bool:
    """Whether the fits tell of a putting stroke at all: events in order, forward at contact."""
    in_order = fitted.takeaway_s < fitted.top.end_of_arrival_s
    in_order &= fitted.top.start_of_departure_s + 0.04 < fitted.contact.time_s
    return bool(in_order and fitted.contact.state[1] > 0.1)


def _events(fitted: FittedEvents) -> dict[str, Measure]:
    covariance = fitted.top.covariance_s2
    events = {
        "takeaway": Measure(fitted.takeaway_s, float(np.sqrt(fitted.takeaway.covariance_s2[1, 1])), "events"),
        "top": Measure(fitted.top.end_of_arrival_s, float(np.sqrt(covariance[0, 0])), "events"),
        "impact": Measure(fitted.contact.time_s, fitted.contact.time_sd_s, "contact"),
    }
    if fitted.finish is not None:
        sd = float(np.sqrt(fitted.finish.covariance_s2[0, 0]))
        events["finish"] = Measure(fitted.finish_s, sd, "events")
    return events


def _remarks(
    motion: HeadMotion, fitted: FittedEvents, kind: StrokeKind, recording: Recording
) -> tuple[Remark, ...]:
    remarks = []
    start, end = fitted.top.start_of_departure_s, fitted.contact.time_s
    down = motion.between(start, end)
    if down.stop - down.start < FEWEST_IN_DOWNSWING:
        remarks.append(
            Remark(
                "too-few-samples",
                f"Only {down.stop - down.start} samples in the downswing: the figures at contact are weak.",
            )
        )
    if not fitted.had_still_address:
        remarks.append(
            Remark("no-still-address", "The head was not still before takeaway: backswing time is less sure.")
        )
    if kind == "rehearsal":
        remarks.append(
            Remark(
                "contact-not-seen",
                "No loss of speed at the ball's place: taken as a rehearsal stroke, timed to where the head "
                "passes that place.",
            )
        )
    if not fitted.ball_is_clear:
        remarks.append(
            Remark(
                "contact-not-clear",
                f"Whether a ball was met is hard to tell here; taken as a {kind}.",
            )
        )
    longest = _longest_gap(motion, fitted.takeaway_s, end + 0.1)
    if longest > max(0.03, 3.0 / motion.rate_hz):
        remarks.append(Remark("gap", f"{1000 * longest:.0f} ms of the stroke were not recorded."))
    left_out = _glitches_left_out(motion, recording)
    if left_out:
        what = "1 sample" if left_out == 1 else f"{left_out} samples"
        remarks.append(
            Remark("glitch", f"{what} near this stroke stood far off all others and were left out.")
        )
    remarks.extend(r for r in recording.remarks if r.code == "clipped")
    return tuple(remarks)


def _glitches_left_out(motion: HeadMotion, recording: Recording) -> int:
    """Samples of the head that the recording has within ``motion`` and the motion has not."""
    head = recording.traces.get("head")
    if head is None:
        return 0
    first, last = np.searchsorted(head.time_s, [motion.time_s[0], motion.time_s[-1]])
    return int(last - first + 1 - motion.time_s.size)


def _longest_gap(motion: HeadMotion, start_s: float, end_s: float) -> float:
    times = motion.time_s[motion.between(start_s, end_s)]
    return float(np.diff(times).max()) if times.size > 1 else float("inf")
