"""The fitted curve of a stroke for pictures: smooth before contact and after it, never across."""

from __future__ import annotations

import numpy as np

from pacewright.core.recording import FloatArray
from pacewright.core.stroke import StrokeCurve
from pacewright.stroke.events import FittedEvents
from pacewright.stroke.motion import HeadMotion

STEP_S = 0.005
_HALF_WINDOW_S = 0.035
_MARGIN_S = 0.1


def stroke_curve(motion: HeadMotion, fitted: FittedEvents) -> StrokeCurve:
    """Place and speed every 5 ms from just before takeaway to just after the finish.

    A local quadratic over ±35 ms, one-sided at contact; the samples beside contact join the fitted
    one-sided limits.
    """
    contact = fitted.contact
    end_s = fitted.finish_s if fitted.finish is not None else max(float(motion.time_s[-1]), contact.time_s)
    first = int(np.floor((fitted.takeaway_s - _MARGIN_S - contact.time_s) / STEP_S))
    last = int(np.ceil((end_s + _MARGIN_S - contact.time_s) / STEP_S))
    grid = np.asarray(np.arange(first, last + 1) * STEP_S, float)
    tau = motion.time_s - contact.time_s
    window = slice(*np.searchsorted(tau, [grid[0] - 0.1, grid[-1] + 0.1]))
    tau, place = tau[window], motion.position_m[window]
    before, after = tau <= 0, tau > 0
    is_before = grid <= 0
    x_contact = contact.state[0] if motion.derivative == 0 else motion.position_at(contact.time_s)
    position, speed = np.empty_like(grid), np.empty_like(grid)
    for side, wanted in ((before, is_before), (after, ~is_before)):
        position[wanted], speed[wanted] = _local_quadratic(*_thinned(tau[side], place[side]), grid[wanted])
    at_contact = int(np.flatnonzero(grid == 0.0)[0])
    speed[at_contact], position[at_contact] = contact.state[1], x_contact
    inside = grid >= tau[0]
    inside &= grid <= tau[-1]
    return StrokeCurve(grid[inside], (position - x_contact)[inside], speed[inside], float(contact.state[3]))


def _thinned(t: FloatArray, x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Neighbours averaged to about a sample each 5 ms, where there are more."""
    block = int(STEP_S / float(np.median(np.diff(t)))) if t.size > 1 else 1
    if block < 2:
        return t, x
    kept = t.size // block * block
    return t[:kept].reshape(-1, block).mean(axis=1), x[:kept].reshape(-1, block).mean(axis=1)


def _local_quadratic(t: FloatArray, x: FloatArray, at: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Value and slope at ``at`` (m,) of a weighted quadratic through samples (n,) near each point."""
    if t.size < 4:
        return np.full(at.size, np.nan), np.full(at.size, np.nan)
    half = max(_HALF_WINDOW_S, 3.0 * float(np.median(np.diff(t))))
    u = (t[None, :] - at[:, None]) / half
    weight = np.clip(1 - u**2, 0.0, None)
    basis = np.stack([np.ones_like(u), u, u**2], axis=2)
    weighted = basis * weight[..., None]
    gram = basis.transpose(0, 2, 1) @ weighted + 1e-9 * np.eye(3)
    coefficients = np.linalg.solve(gram, weighted.transpose(0, 2, 1) @ x[:, None])[..., 0]
    return np.asarray(coefficients[:, 0], float), np.asarray(coefficients[:, 1] / half, float)
