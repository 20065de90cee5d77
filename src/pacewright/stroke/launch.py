"""The ball's departure, where the recording shows the ball: when it leaves, and how fast.

Model: at rest, then travel v·τ + b·τ² + c·τ³ from the moment of departure (skid slows the ball early on).
The moment is on a grid, as in `contact`; the speed is averaged over it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pacewright.core.measure import Measure
from pacewright.core.recording import FloatArray, Recording
from pacewright.stroke.linear import fit_all, weights

MOVED_M = 0.02
_WINDOW_S = 0.12
_FLIGHTS_S, _USUAL_FLIGHT_S = (0.0, 0.005, 0.01, 0.015, 0.02), 0.006
"""A ball leaves upward by a degree or two and does not slow before it lands: 2·v·sin(lift)/g, up to 20 ms."""
_SLOWING_M_S2, _SLOWING_SD_M_S2, _CHANGE_SD_M_S3 = 2.5, 2.0, 30.0
"""What the ball's slowing is taken to be before it is measured: sliding friction of a quarter of its
weight, give or take most of that, easing off as it begins to roll (`putt-physics`: sliding 0.2 to 0.6,
rolling below 0.1).
"""


@dataclass(frozen=True, slots=True)
class Departure:
    """When the ball left (s, with its standard uncertainty) and its launch speed (m/s, likewise)."""

    time_s: float
    time_sd_s: float
    speed_m_s: float
    speed_sd_m_s: float


def ball_departure(recording: Recording, start_s: float, end_s: float) -> Departure | None:
    """The ball's departure between ``start_s`` and ``end_s``; None when it was not seen to leave then."""
    ball = recording.traces.get("ball")
    x = ball.axis("x") if ball is not None else None
    if ball is None or x is None:
        return None
    near = slice(*np.searchsorted(ball.time_s, [start_s - 0.3, end_s + 2 * _WINDOW_S]))
    time_s, along = ball.time_s[near], x[near]
    at_rest = time_s < start_s
    if at_rest.sum() < 3:
        return None
    travel = along - np.median(along[at_rest])
    scatter = float(np.std(travel[at_rest]))
    y = ball.axis("y")
    if y is not None:
        sideways = y[near] - np.median(y[near][at_rest])
        # At rest the length of a noisy vector is never zero: only a ball on its way is measured that way.
        travel = np.where(travel > MOVED_M / 4, np.hypot(travel, sideways), travel)
    away = np.flatnonzero((travel > max(MOVED_M, 6 * scatter)) & ~at_rest)
    if away.size < 4 or time_s[away[0]] > end_s:
        return None
    first_away_s = float(time_s[away[0]])
    window = (time_s > first_away_s - 0.2) & (time_s < first_away_s + _WINDOW_S)
    fitted = _fitted(time_s[window], travel[window], first_away_s, max(scatter, 1e-5))
    off_m = recording.place_bias_m
    return replace(
        fitted,
        time_sd_s=float(np.hypot(fitted.time_sd_s, off_m / fitted.speed_m_s)),
        speed_sd_m_s=float(np.hypot(fitted.speed_sd_m_s, off_m / _WINDOW_S)),
    )


def _fitted(time_s: FloatArray, travel_m: FloatArray, first_away_s: float, noise_sd: float) -> Departure:
    half = 0.06
    moment = first_away_s - half
    moments, spread = moment + np.linspace(-half, half, 49), half
    slowing, slowing_sd = (_WINDOW_S**2 / 2 * m_s2 for m_s2 in (-_SLOWING_M_S2, _SLOWING_SD_M_S2))
    # The slowing has a mean of its own, which comes in as one more observation.
    sds = [0.01, 10 * _WINDOW_S, 1e3, _CHANGE_SD_M_S3 / 6 * _WINDOW_S**3]
    prior = np.diag(np.array(sds) ** -2.0)
    for stage in range(4):
        grid, flight = (each.ravel() for each in np.meshgrid(moments, _FLIGHTS_S, indexing="ij"))
        u = np.maximum(time_s - grid[:, None], 0.0) / _WINDOW_S
        slid = np.maximum(u - flight[:, None] / _WINDOW_S, 0.0)
        told = np.broadcast_to([0.0, 0.0, noise_sd / slowing_sd, 0.0], (grid.size, 1, 4))
        design = np.concatenate([np.stack([np.ones_like(u), u, slid**2, slid**3], axis=2), told], axis=1)
        observed = np.append(travel_m, noise_sd / slowing_sd * slowing)
        fits = fit_all(design, observed, noise_sd, prior)
        noise_sd = fits.noise_sd(int(fits.log_evidence.argmax()))
        weight = weights(fits.log_evidence - flight / _USUAL_FLIGHT_S)
        moment = float(weight @ grid)
        spread = max(float(np.sqrt(weight @ (grid - moment) ** 2)), 0.3 * float(moments[1] - moments[0]))
        if stage < 3:
            moments = np.linspace(moment - 4 * spread, moment + 4 * spread, 33)
    speeds = fits.mean[:, 1] / _WINDOW_S
    speed = float(weight @ speeds)
    inner = float(fits.covariance(np.array([weight.argmax()]))[0, 1, 1]) / _WINDOW_S**2
    speed_var = inner + float(weight @ (speeds - speed) ** 2)
    return Departure(moment, spread, speed, float(np.sqrt(speed_var)))


def ball_measures(ball: Departure, head_speed: Measure, scale_relative_sd: float) -> dict[str, Measure]:
    """Launch speed and its ratio to head speed. One scale serves both speeds and leaves their ratio alone."""
    ratio = ball.speed_m_s / head_speed.value
    head_var = max(head_speed.sd**2 - (scale_relative_sd * head_speed.value) ** 2, 0.0)
    ratio_var = (ball.speed_sd_m_s**2 + ratio**2 * head_var) / head_speed.value**2
    speed_sd = float(np.hypot(ball.speed_sd_m_s, scale_relative_sd * ball.speed_m_s))
    return {
        "ball_speed_m_s": Measure(ball.speed_m_s, speed_sd, "ball-launch"),
        "ball_speed_ratio": Measure(ratio, float(np.sqrt(ratio_var)), "ball-launch"),
    }
