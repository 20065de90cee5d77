"""The ball's departure, where the recording shows the ball: when it leaves, and how fast.

Model (textbook mechanics, level ground): at rest until it leaves; then a short hop at the launch speed,
because a putt leaves upward by a degree or two; then it slides and slows by friction until it rolls, at about
5/7 of the launch speed, and from there it slows little. What cannot be told from its travel alone (a longer
hop looks like a slower launch) has a prior, and not knowing it is part of the uncertainty.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from pacewright.core.measure import Measure
from pacewright.core.recording import FloatArray, Recording

MOVED_M = 0.02
_WINDOW_S = 0.2
_SPEED_FROM_S = 0.1
"""Most of what is known of the launch speed comes from this long after departure."""
_GRAVITY_M_S2 = 9.80665
_NEAR_S = 0.05
_ROUNDS, _CLOSE_ENOUGH = 30, 1e-3


class _Run(NamedTuple):
    """The parameters of a ball's run, or their means, spreads or steps."""

    rest_m: float
    departure_s: float
    speed_m_s: float
    lift_deg: float
    log_friction: float
    rolling_share: float
    rolling_m_s2: float


_SPREADS = _Run(0.005, 0.05, 10.0, 1.2, 0.5, 0.02, 0.3)
_STEPS = np.array(_Run(1e-5, 1e-5, 1e-4, 1e-2, 1e-3, 1e-3, 1e-3))
_STARTS_DEG = (0.4, 1.5, 3.0)
"""A fit from each of these lifts: there may be a best place on either side of where the hop ends."""


def _usual(departure_s: float, speed_m_s: float) -> _Run:
    """Means of the prior: lift of 1 to 3 degrees (common practice, no source), sliding friction 0.2 to 0.6
    and 5/7 (`putt-physics`), rolling as on a green of Stimp 10.
    """
    return _Run(0.0, departure_s, speed_m_s, 1.5, float(np.log(0.3)), 5 / 7, 0.6)


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
        speed_sd_m_s=float(np.hypot(fitted.speed_sd_m_s, off_m / _SPEED_FROM_S)),
    )


def _fitted(time_s: FloatArray, travel_m: FloatArray, first_away_s: float, noise_sd: float) -> Departure:
    """Mean and spread over the best runs from several starts, each weighed by how well it fits."""
    early = (time_s >= first_away_s) & (time_s < first_away_s + _NEAR_S)
    early[np.flatnonzero(time_s >= first_away_s)[:4]] = True
    slope, level = np.polyfit(time_s[early], travel_m[early], 1)
    usual = _usual(float(-level / slope), float(slope))
    fits = [_best_run(time_s, travel_m, usual, lift_deg, noise_sd) for lift_deg in _STARTS_DEG]
    misfit = np.array([fit.misfit for fit in fits])
    weight = np.exp(-0.5 * (misfit - misfit.min()))
    weight /= weight.sum()

    def averaged(parameter: int) -> tuple[float, float]:
        values = np.array([fit.run[parameter] for fit in fits])
        variances = np.array([fit.covariance[parameter, parameter] for fit in fits])
        mean = float(weight @ values)
        return mean, float(np.sqrt(weight @ (variances + (values - mean) ** 2)))

    return Departure(*averaged(_Run._fields.index("departure_s")), *averaged(_Run._fields.index("speed_m_s")))


class _Fit(NamedTuple):
    run: FloatArray
    covariance: FloatArray
    misfit: float


def _best_run(
    time_s: FloatArray, travel_m: FloatArray, usual: _Run, lift_deg: float, noise_sd: float
) -> _Fit:
    """The most probable run by damped Gauss-Newton steps (Levenberg-Marquardt; scipy.optimize would do it
    too, but its import takes as long as all the rest of an assessment).
    """
    mean, weight = np.array(usual), np.array(_SPREADS) ** -2.0
    run = np.array(usual._replace(lift_deg=lift_deg))

    def misfit(run: FloatArray) -> float:
        off = (travel_m - _travel(run, time_s)) / noise_sd
        return float(off @ off + weight @ (run - mean) ** 2)

    damping, best = 1e-2, misfit(run)
    for number in range(_ROUNDS):
        off = travel_m - _travel(run, time_s)
        if number == 3:  # near enough to see how the places scatter
            spare = max(time_s.size - len(usual), 1)
            noise_sd = float(np.sqrt((off @ off + 2 * noise_sd**2) / (spare + 2)))
            best = misfit(run)
        slopes = _slopes(run, time_s)
        precision = slopes.T @ slopes / noise_sd**2 + np.diag(weight)
        pull = slopes.T @ off / noise_sd**2 - weight * (run - mean)
        step = np.linalg.solve(precision + damping * np.diag(precision.diagonal()), pull)
        reached = misfit(run + step)
        gain = best - reached
        if gain > 0:
            run, best, damping = run + step, reached, damping / 5
        else:
            damping *= 6
        if number > 3 and abs(gain) < _CLOSE_ENOUGH:
            break
    return _Fit(run, np.asarray(np.linalg.inv(precision), float), best)


def _slopes(run: FloatArray, time_s: FloatArray) -> FloatArray:
    """Change of the travel (n,) with each parameter (n, 7), by differences to both sides."""
    moves = np.diag(_STEPS)
    return np.column_stack(
        [
            (_travel(run + move, time_s) - _travel(run - move, time_s)) / (2 * step)
            for move, step in zip(moves, _STEPS, strict=True)
        ]
    )


def _travel(run: FloatArray, time_s: FloatArray) -> FloatArray:
    """Travel (n,) in metres at times (n,): rest, hop, slide, roll."""
    p = _Run(*run)
    sliding_m_s2 = np.exp(p.log_friction) * _GRAVITY_M_S2
    hop_s = 2 * p.speed_m_s * np.sin(np.radians(abs(p.lift_deg))) / _GRAVITY_M_S2
    slide_s = (1 - p.rolling_share) * p.speed_m_s / sliding_m_s2
    since = np.maximum(time_s - p.departure_s, 0.0)
    hopped, landed = np.minimum(since, hop_s), np.maximum(since - hop_s, 0.0)
    slid, rolled = np.minimum(landed, slide_s), np.maximum(landed - slide_s, 0.0)
    return np.asarray(
        p.rest_m
        + p.speed_m_s * (hopped + slid + p.rolling_share * rolled)
        - 0.5 * (sliding_m_s2 * slid**2 + p.rolling_m_s2 * rolled**2)
    )


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
