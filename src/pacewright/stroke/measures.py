"""The measures of the registry from the fitted events of a stroke, each with its standard uncertainty."""

from __future__ import annotations

import numpy as np

from pacewright.core.measure import Measure
from pacewright.core.recording import FloatArray
from pacewright.stroke.contact import ContactFit
from pacewright.stroke.events import FittedEvents
from pacewright.stroke.motion import HeadMotion
from pacewright.stroke.smoothness import spectral_arc_length

LITERATURE_THRESHOLD_M_S = 0.05
_DRAWS = 24


def timing_measures(fitted: FittedEvents) -> dict[str, Measure]:
    """Times and their ratio. The four fits are independent, but for the two ends of a pause."""
    takeaway, top, contact = fitted.takeaway, fitted.top, fitted.contact
    takeaway_var = float(takeaway.covariance_s2[1, 1])
    (arrive_var, both), (_, depart_var) = top.covariance_s2
    contact_var = float(contact.covariance[0, 0])
    back = top.end_of_arrival_s - takeaway.start_of_departure_s
    pause = top.start_of_departure_s - top.end_of_arrival_s
    down = contact.time_s - top.start_of_departure_s
    ratio_var = (
        (takeaway_var + arrive_var) / down**2
        + (depart_var + contact_var) * back**2 / down**4
        + 2 * both * back / down**3
    )
    measures = {
        "backswing_time_s": _measure(back, takeaway_var + arrive_var, "events"),
        "top_pause_s": _measure(pause, arrive_var + depart_var - 2 * both, "events"),
        "downswing_time_s": _measure(down, depart_var + contact_var, "events"),
        "time_ratio": _measure(back / down, ratio_var, "events"),
    }
    if fitted.finish is not None:
        finish_var = float(fitted.finish.covariance_s2[0, 0])
        through = fitted.finish_s - contact.time_s
        measures["follow_through_time_s"] = _measure(through, finish_var + contact_var, "events")
    return measures


def length_measures(motion: HeadMotion, fitted: FittedEvents) -> dict[str, Measure]:
    """Lengths along the target line from the place of contact, and their ratio."""
    x_contact, contact_var = _place_of_contact(motion, fitted.contact)
    x_top, top_var = _place_of_rest(motion, fitted, "top")
    back = motion.along_line(x_contact - x_top)
    scale = motion.scale_relative_sd
    measures = {"backswing_length_m": _measure(back, contact_var + top_var + (scale * back) ** 2, "lengths")}
    if fitted.finish is not None:
        x_finish, finish_var = _place_of_rest(motion, fitted, "finish")
        through = motion.along_line(x_finish - x_contact)
        through_var = contact_var + finish_var + (scale * through) ** 2
        ratio_var = (
            finish_var / back**2 + top_var * through**2 / back**4
            + contact_var * (1 / back + through / back**2) ** 2
        )  # fmt: skip
        measures["follow_through_length_m"] = _measure(through, through_var, "lengths")
        measures["length_ratio"] = _measure(through / back, ratio_var, "lengths")
    return measures


def contact_measures(motion: HeadMotion, fitted: FittedEvents) -> dict[str, Measure]:
    """Speed and acceleration at contact, as one-sided limits, and what follows from them."""
    contact, scale = fitted.contact, motion.scale_relative_sd
    _, speed, acceleration, after = contact.state
    down = contact.time_s - fitted.top.start_of_departure_s
    index = acceleration * down / speed
    by_state = np.array([acceleration / speed, 0.0, -index / speed, down / speed, 0.0])
    index_var = by_state @ contact.covariance @ by_state
    index_var += fitted.top.covariance_s2[1, 1] * (acceleration / speed) ** 2
    by_kept = np.array([0.0, 0.0, -after / speed**2, 0.0, 1 / speed])
    kept_var = by_kept @ contact.covariance @ by_kept
    speed_var = contact.covariance[2, 2] + (scale * speed) ** 2
    acceleration_var = contact.covariance[3, 3] + (scale * acceleration) ** 2
    lead, lead_sd = _peak_lead(contact)
    return {
        "impact_speed_m_s": _measure(speed, speed_var, "contact"),
        "impact_acceleration_m_s2": _measure(acceleration, acceleration_var, "contact"),
        "impact_acceleration_index": _measure(index, index_var, "contact"),
        "peak_speed_lead_s": Measure(lead, lead_sd, "contact"),
        "collision_speed_kept": _measure(after / speed, kept_var, "contact"),
    }


def threshold_backswing_time(motion: HeadMotion, fitted: FittedEvents) -> Measure:
    """Backswing time with takeaway where backward speed first stays above 0.05 m/s (10-ms slopes)."""
    top_s = fitted.top.end_of_arrival_s
    time_s = np.arange(fitted.takeaway_s - 0.1, top_s, 0.005)
    position = np.interp(time_s, motion.time_s, motion.position_m)
    smooth = np.convolve(position, np.full(5, 0.2), mode="valid")
    speed, at = -np.gradient(smooth, 0.005), time_s[2:-2]
    slow = np.flatnonzero(speed[: max(int(speed.argmax()), 1)] < LITERATURE_THRESHOLD_M_S)
    crossing = at[min(slow[-1] + 1, at.size - 1)] if slow.size else at[0]
    step = max(1.0 / motion.rate_hz, 0.005)
    # Noise of the slope over the 25 ms that it spans, over how fast speed grows there, moves the crossing.
    slope_noise = 3.5 * fitted.takeaway.noise_sd / 0.025 / np.sqrt(max(0.025 * motion.rate_hz, 1.0))
    growth = max(float(speed.max()), 0.1) / max(float(top_s - crossing) / 2, 0.05)
    sd = np.hypot(step / np.sqrt(6), np.hypot(0.005, slope_noise / growth if not motion.derivative else 0.0))
    return Measure(float(top_s - crossing), float(sd), "events")


def smoothness(motion: HeadMotion, fitted: FittedEvents) -> Measure:
    """SPARC of head speed from takeaway to contact; its spread under the noise that the fits found."""
    start, end = fitted.takeaway_s, fitted.contact.time_s
    rate = min(motion.rate_hz, 120.0)
    time_s = np.arange(start, end, 1.0 / rate)
    if time_s.size < 8:
        return Measure(float("nan"), float("nan"), "smoothness")
    observed = np.interp(time_s, motion.time_s, motion.observed)
    rng = np.random.default_rng(0)
    noise = rng.normal(0.0, fitted.contact.noise_sd, (5, time_s.size))
    noise[0] = 0.0
    profiles = observed + noise
    speed = np.abs(profiles if motion.derivative else np.gradient(profiles, 1.0 / rate, axis=1))
    values = spectral_arc_length(speed, rate)
    return Measure(float(values[0]), float(np.std(values[1:] - values[0])), "smoothness")


def path_angle(motion: HeadMotion, lateral_m: FloatArray, fitted: FittedEvents) -> Measure:
    """Direction of the head in the ground plane just before contact: slope of a parabola of its sideways
    place over its place along the line, from the last 80 ms (the path is an arc)."""
    contact = fitted.contact
    window = motion.between(contact.time_s - 0.08, contact.time_s)
    along, y = motion.position_m[window] - contact.state[0], lateral_m[window]
    if along.size < 5:
        return Measure(float("nan"), float("nan"), "path")
    scale = max(float(np.ptp(along)), 1e-3)
    design = np.vander(along / scale, 3, increasing=True)
    coefficients, residual, *_ = np.linalg.lstsq(design, y, rcond=None)
    # As in `contact`, what scatter the fit itself found counts as two samples.
    spare = along.size - 3
    left = float(residual[0]) if residual.size else 0.0
    noise_var = (left + 2 * contact.noise_sd**2) / (spare + 2)
    slope = coefficients[1] / scale
    slope_sd = np.sqrt(noise_var * np.linalg.inv(design.T @ design)[1, 1]) / scale
    # d atan(s) = ds/(1 + s²); not knowing the moment moves along the arc.
    bend = 2 * coefficients[2] / scale**2 * contact.state[1] * contact.time_sd_s
    angle_sd = np.hypot(slope_sd, bend) / (1 + slope**2)
    return Measure(float(np.degrees(np.arctan(slope))), float(np.degrees(angle_sd)), "path")


def _measure(value: float, variance: float, method: str) -> Measure:
    return Measure(float(value), float(np.sqrt(max(variance, 0.0))), method)


def _place_of_contact(motion: HeadMotion, contact: ContactFit) -> tuple[float, float]:
    if motion.derivative == 0:
        return float(contact.state[0]), float(contact.covariance[1, 1])
    place = motion.position_at(contact.time_s)
    return place, float(contact.covariance[0, 0] * contact.state[1] ** 2)


def _place_of_rest(motion: HeadMotion, fitted: FittedEvents, which: str) -> tuple[float, float]:
    fit = fitted.top if which == "top" else fitted.finish
    assert fit is not None
    if motion.derivative == 0:
        return fit.rest_value, fit.rest_value_sd**2
    at = fit.end_of_arrival_s
    # A gyroscope's drift over the stroke: bias uncertainty times the time from contact.
    drift = fit.rest_value_sd * abs(at - fitted.contact.time_s)
    return motion.position_at(at), drift**2


def _peak_lead(contact: ContactFit) -> tuple[float, float]:
    """Time from the peak of the fitted head speed to contact, and its spread under the fit's covariance."""
    order = np.arange(1, contact.before.size)
    u = np.linspace(-1.0, 0.0, 201)
    basis = order * u[:, None] ** (order - 1)
    variance, axes = np.linalg.eigh(contact.before_covariance[1:, 1:])
    root = axes * np.sqrt(np.clip(variance, 0.0, None))
    draws = np.random.default_rng(0).normal(size=(_DRAWS, order.size)) @ root.T
    speeds = basis @ np.column_stack([contact.before[1:], (contact.before[1:] + draws).T])
    leads = -u[speeds.argmax(axis=0)] * contact.before_window_s
    spread = float(np.sqrt(np.mean((leads[1:] - leads[0]) ** 2)))
    return float(leads[0]), max(spread, contact.time_sd_s)
