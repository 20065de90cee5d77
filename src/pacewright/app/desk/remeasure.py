"""A stroke measured with events that a person set: what was fitted there is replaced, the rest follows from
it."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping

import numpy as np

from pacewright.app.putting import predicted_roll_out
from pacewright.core.equipment import Putter
from pacewright.core.errors import QualityError, SettingsError
from pacewright.core.green import Green
from pacewright.core.measure import Measure, Remark
from pacewright.core.recording import Recording
from pacewright.core.stroke import Stroke
from pacewright.stroke import measures as measure
from pacewright.stroke.analyse import head_motion, with_place_bias
from pacewright.stroke.curve import stroke_curve
from pacewright.stroke.events import FittedEvents, fit_events
from pacewright.stroke.find import RoughStroke, find_strokes
from pacewright.stroke.launch import Departure, ball_departure, ball_measures
from pacewright.stroke.motion import HeadMotion
from pacewright.stroke.rest import RestFit

METHOD = "by-hand"
_AROUND_S = 1.0


def measure_by_hand(
    recording: Recording, stroke: Stroke, moved_s: Mapping[str, float], *, green: Green | None, putter: Putter
) -> Stroke:
    """The stroke with its events at ``moved_s`` (seconds on the recording's clock), measured again.

    An event set by hand has the standard uncertainty of half a step between samples. Raises QualityError
    where the recording cannot be measured again, SettingsError for events that are out of order.
    """
    motion, lateral = head_motion(recording) if recording.kind != "timing" else (None, None)
    if motion is None:
        raise QualityError("Events of a stroke that was timed by hand are changed in its table.")
    rough = _rough(motion, stroke)
    around = (rough.onset_s - _AROUND_S, rough.end_s + _AROUND_S)
    part = motion.between(*around)
    motion = motion.cropped(*around)
    if recording.kind == "trajectory":
        motion = dataclasses.replace(motion, place_m=0.0)
    sd_s = 0.5 / motion.rate_hz
    ball = ball_departure(recording, rough.top_s[1], rough.end_s)
    contact = _contact_at(moved_s.get("impact"), sd_s, ball)
    fitted = _with_events(fit_events(motion, rough, contact), moved_s, sd_s**2)
    _check_order(fitted)
    figures = measure.timing_measures(fitted) | measure.length_measures(motion, fitted)
    figures |= measure.contact_measures(motion, fitted)
    figures["impact_acceleration_m_s2"] = with_place_bias(figures["impact_acceleration_m_s2"], recording)
    if ball is not None:
        figures |= ball_measures(ball, figures["impact_speed_m_s"], recording.scale_relative_sd)
    figures["smoothness_sparc"] = measure.smoothness(motion, fitted)
    figures["backswing_time_threshold_s"] = measure.threshold_backswing_time(motion, fitted)
    if lateral is not None:
        figures["path_angle_deg"] = measure.path_angle(motion, lateral[part], fitted)
    if stroke.kind == "rehearsal":
        figures.pop("collision_speed_kept")
    if green is not None and stroke.kind == "putt":
        roll_out = predicted_roll_out(
            green,
            putter,
            ball_speed=figures.get("ball_speed_m_s"),
            head_speed=figures.get("impact_speed_m_s"),
        )
        figures |= {} if roll_out is None else {"roll_out_m": roll_out}
    quality = tuple(remark for remark in stroke.quality if remark.code != METHOD)
    return dataclasses.replace(
        stroke,
        events=_events(fitted, moved_s),
        measures={name: figure for name, figure in figures.items() if figure.is_known},
        quality=(*quality, Remark(METHOD, f"Set by hand: {', '.join(sorted(moved_s))}.")),
        curve=stroke_curve(motion, fitted),
    )


def _rough(motion: HeadMotion, stroke: Stroke) -> RoughStroke:
    """The movement in which the stroke was found."""
    impact_s = stroke.events["impact"].value
    for rough in find_strokes(motion):
        if rough.onset_s <= impact_s <= rough.end_s:
            return rough
    raise QualityError("This stroke is not found in its recording any more; analyse the recording again.")


def _contact_at(impact_s: float | None, sd_s: float, ball: Departure | None) -> Departure | None:
    """The ball's departure as it was seen, or as if it had been seen where contact was set."""
    if impact_s is None:
        return ball
    if ball is None:
        return Departure(impact_s, sd_s, float("nan"), float("nan"))
    return dataclasses.replace(ball, time_s=impact_s, time_sd_s=sd_s)


def _with_events(fitted: FittedEvents, moved_s: Mapping[str, float], variance: float) -> FittedEvents:
    """Takeaway, top and finish where they were set; a pause at the top keeps its length."""
    known = np.full((2, 2), 0.0)
    known[0, 0] = known[1, 1] = variance

    def moved(fit: RestFit, by_s: float) -> RestFit:
        return dataclasses.replace(
            fit,
            end_of_arrival_s=fit.end_of_arrival_s + by_s,
            start_of_departure_s=fit.start_of_departure_s + by_s,
            covariance_s2=known,
        )

    takeaway, top, finish = fitted.takeaway, fitted.top, fitted.finish
    if "takeaway" in moved_s:
        takeaway = moved(takeaway, moved_s["takeaway"] - takeaway.start_of_departure_s)
    if "top" in moved_s:
        top = moved(top, moved_s["top"] - top.end_of_arrival_s)
    if "finish" in moved_s:
        if finish is None:
            raise SettingsError("The end of this stroke was not recorded, so it cannot be moved.")
        finish = moved(finish, moved_s["finish"] - finish.end_of_arrival_s)
    contact = fitted.contact
    if "impact" in moved_s:
        covariance = contact.covariance.copy()
        covariance[0, 0] = variance
        contact = dataclasses.replace(contact, time_s=moved_s["impact"], covariance=covariance)
    return dataclasses.replace(fitted, takeaway=takeaway, top=top, finish=finish, contact=contact)


def _check_order(fitted: FittedEvents) -> None:
    times = [
        fitted.takeaway_s, fitted.top.end_of_arrival_s, fitted.top.start_of_departure_s,
        fitted.contact.time_s,
        *([] if fitted.finish is None else [fitted.finish_s]),
    ]  # fmt: skip
    steps = np.diff(times)
    if not bool((steps >= 0.0).all()) or times[1] - times[0] < 0.05 or times[3] - times[2] < 0.04:
        raise SettingsError(
            "Takeaway, top, contact and finish follow each other, with room for a swing between."
        )


def _events(fitted: FittedEvents, moved_s: Mapping[str, float]) -> dict[str, Measure]:
    def method(event: str, usual: str) -> str:
        return METHOD if event in moved_s else usual

    def sd(fit: RestFit, place: int) -> float:
        return float(np.sqrt(fit.covariance_s2[place, place]))

    events = {
        "takeaway": Measure(fitted.takeaway_s, sd(fitted.takeaway, 1), method("takeaway", "events")),
        "top": Measure(fitted.top.end_of_arrival_s, sd(fitted.top, 0), method("top", "events")),
        "impact": Measure(fitted.contact.time_s, fitted.contact.time_sd_s, method("impact", "contact")),
    }
    if fitted.finish is not None:
        events["finish"] = Measure(fitted.finish_s, sd(fitted.finish, 0), method("finish", "events"))
    return events
