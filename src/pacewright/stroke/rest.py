"""Where a motion starts or ends: a rest between two motions, fitted and not thresholded.

Model, on the samples of a window: at rest at x_r (with a slight drift) between t1 and t2; before t1
the head arrives, after t2 it departs,

    x(t) = x_r + d·t + Σ γ_k·((t1 − t)/W)^(p+k)   for t < t1
    x(t) = x_r + d·t + Σ δ_k·((t − t2)/W)^(r+k)   for t > t2        k = 0 … 3

The powers p and r (2, 2.5, 3: a start like t², t³ and between) are averaged over, and so are t1 and t2.
Either side may be left out: takeaway after a still address has no arrival. With velocities instead
of positions the same columns are used, differentiated.

No sample feels both motions, so each side is solved once for each (time, power) and the two meet only
in x_r and d; all pairs of sides then cost little. Without a pause t1 = t2, a case of its own weight.

A threshold on speed finds a t³ start some 40 ms late (see `docs/methods/events.md`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray
from pacewright.stroke.linear import fit_all, log_sum, weights

_TERMS = 4
_SYSTEM = _TERMS + 3


class _Starts(NamedTuple):
    """Ways a motion may start: the ``exponents`` (E,) of u that they need, and for each start the rows of
    a system that are its own, then those of the data, ``rows`` (P, 7)."""

    exponents: FloatArray
    rows: NDArray[np.intp]

    @property
    def ways(self) -> int:
        """How many starts."""
        return int(self.rows.shape[0])


_MIDDLE_START = _Starts(np.array([2.5, 3.5, 4.5, 5.5]), np.arange(_SYSTEM)[None, :])
_EVERY_START = _Starts(
    np.asarray(np.arange(4, 13) / 2.0, float),
    np.column_stack([np.arange(3)[:, None] + 2 * np.arange(_TERMS), np.tile(9 + np.arange(3), (3, 1))]),
)
"""Like t^2.5 alone, for a first look; like t², t^2.5 and t³."""
_DIAGONAL = np.arange(_TERMS)
_SAMPLES = 40
_PAUSE_MEAN_S = 0.08
_NO_PAUSE_SHARE = 0.6
_FINEST_S = 5e-4
_BETWEEN_POWERS = np.diag([1.5e-3, 1.5e-3]) ** 2
"""Variance in s² of what a start unlike t², t^2.5 and t³ does to a fitted time: ours, from simulation."""
_UNIT = np.linspace(-1.0, 1.0, 19)
_PAUSE_UNIT = np.linspace(-1.0, 1.0, 27)
_STAGES = 4


@dataclass(frozen=True, slots=True)
class RestFit:
    """``end_of_arrival_s`` t1 and ``start_of_departure_s`` t2, their covariance (2, 2) in s², and x_r.

    A side that was left out has nan. ``noise_sd`` is the scatter of the samples about the fit.
    """

    end_of_arrival_s: float
    start_of_departure_s: float
    covariance_s2: FloatArray
    rest_value: float
    rest_value_sd: float
    noise_sd: float


@dataclass(frozen=True, slots=True)
class Side:
    """What moves on one side of the rest: rough size of the motion and length of its window."""

    size: float
    window_s: float


def fit_rest(
    time_s: FloatArray,
    y: FloatArray,
    noise_sd: float,
    *,
    centre_s: float,
    half_range_s: float,
    arrival: Side | None,
    departure: Side | None,
    longest_pause_s: float = 0.0,
    derivative: int = 0,
    drift_sd: float = 0.004,
    departure_near: tuple[float, float] | None = None,
    least_noise_sd: float = 0.0,
) -> RestFit:
    """Fit a rest near ``centre_s`` to samples ``y`` (n,) at ``time_s`` (n,).

    ``y`` holds positions (``derivative`` 0) or velocities (1). The middle of the rest is sought within
    ``half_range_s`` of the centre, its length up to ``longest_pause_s`` (only with both sides).
    ``departure_near`` is a rough idea of when the departure starts, with its standard uncertainty. Errors
    that neighbouring samples share (``least_noise_sd``) do not average out.
    """
    t, y, noise_sd = _thinned(time_s - centre_s, y, noise_sd)
    noise_sd = max(noise_sd, least_noise_sd)
    sides = tuple((s, d) for s, d in ((arrival, -1.0), (departure, 1.0)) if s is not None)
    model = _Model(
        t, np.column_stack([y, np.ones_like(t), t]), sides, derivative, drift_sd,
        None if departure_near is None else (departure_near[0] - centre_s, departure_near[1]),
        least_noise_sd,
    )  # fmt: skip
    if len(sides) == 1:
        found = _search_moment(model, noise_sd, half_range_s * _UNIT, 0.0)
        return _summary([found], [1.0], model, centre_s)
    reach = half_range_s + longest_pause_s / 2
    pause = _search_pause(model, noise_sd, reach, longest_pause_s)
    # The two cases are compared at one noise, that of the model which can fit more.
    moment = _search_moment(model, noise_sd, half_range_s * _UNIT, pause.noise_sd)
    shares = weights(
        np.array([
            np.log(_NO_PAUSE_SHARE) + moment.log_total - np.log(2 * half_range_s),
            np.log(1 - _NO_PAUSE_SHARE) + pause.log_total - np.log(2 * reach),
        ])
    )  # fmt: skip
    return _summary([moment, pause], list(shares), model, centre_s)


def _thinned(t: FloatArray, y: FloatArray, noise_sd: float) -> tuple[FloatArray, FloatArray, float]:
    """Neighbours averaged until few enough samples are left: a motion from rest is smooth."""
    block = -(-t.size // _SAMPLES)
    if block == 1:
        return t, y, noise_sd
    kept = t.size // block * block
    mean_t, mean_y = (a[:kept].reshape(-1, block).mean(axis=1) for a in (t, y))
    return mean_t, mean_y, noise_sd / float(np.sqrt(block))


class _Solved(NamedTuple):
    """One side at G = powers × times: ``times`` (G,), and ``terms`` (6, G): its log evidence and what it
    takes from the equations for x_r and d (right side 0 and 1; matrix 00, 01 and 11)."""

    times: FloatArray
    terms: FloatArray


@dataclass(frozen=True, slots=True)
class _Model:
    """Samples at ``t`` (n,); ``data`` (n, 3) holds what was measured, ones and time: x_r and d (with
    velocities: bias and its drift). ``sides`` are those that move, each with its direction in time."""

    t: FloatArray
    data: FloatArray
    sides: tuple[tuple[Side, float], ...]
    derivative: int
    drift_sd: float
    departure_near: tuple[float, float] | None = None
    least_noise_sd: float = 0.0

    def log_prior(self, departure: FloatArray) -> FloatArray | float:
        """Of the start of departure, (P,)."""
        if self.departure_near is None:
            return 0.0
        near, sd = self.departure_near
        return -0.5 * ((departure - near) / sd) ** 2

    @property
    def rest_prior_sd(self) -> FloatArray:
        return np.array([self.drift_sd, self.drift_sd] if self.derivative else [10.0, self.drift_sd])

    def monomials(self, times: FloatArray, rates: FloatArray, starts: _Starts) -> FloatArray:
        """Rows u^e for the exponents of ``starts``, (T, E + 3 unset, n), of a motion that leaves (rate 1/W
        positive) or reaches (negative) rest at ``times`` (T,); time derivatives for measured velocities."""
        exponents = starts.exponents
        u = np.maximum((self.t - times[:, None]) * rates[:, None], 0.0)
        root = np.sqrt(u)
        rows = np.empty((times.size, exponents.size + 3, self.t.size))
        lead = u * u if self.derivative == 0 else u
        rows[:, 0] = lead if exponents[0] == 2.0 else lead * root
        step = root if exponents[1] - exponents[0] == 0.5 else u
        for k in range(1, exponents.size):
            np.multiply(rows[:, k - 1], step, out=rows[:, k])
        if self.derivative:
            rows[:, : exponents.size] *= exponents[:, None] * rates[:, None, None]
        return rows

    def solve(self, times: list[FloatArray], noise_sd: float, starts: _Starts) -> list[_Solved]:
        """Solve every side for each of its times and each of ``starts``; x_r and d stay open."""
        counts = [t.size for t in times]
        at = times[0] if len(times) == 1 else np.concatenate(times)
        rates = np.repeat([d / side.window_s for side, d in self.sides], counts)
        prior = np.repeat([(2.0 * side.size) ** -2.0 for side, _ in self.sides], counts)
        rows = self.monomials(at, rates, starts)
        rows[:, starts.exponents.size :] = self.data.T
        rows /= noise_sd
        gram = rows @ rows.transpose(0, 2, 1)
        chosen = gram[:, starts.rows[:, :, None], starts.rows[:, None, :]]
        system = np.ascontiguousarray(chosen.reshape(-1, _SYSTEM, _SYSTEM).transpose(1, 2, 0))
        system[_DIAGONAL, _DIAGONAL] += np.repeat(prior, starts.ways)
        terms = _eliminated(system)
        every = np.repeat(at, starts.ways)
        cut = counts[0] * starts.ways
        if len(times) == 1:
            return [_Solved(every, terms)]
        return [_Solved(every[:cut], terms[:, :cut]), _Solved(every[cut:], terms[:, cut:])]


def _eliminated(system: FloatArray) -> FloatArray:
    """Eliminate the motion's coefficients from systems (7, 7, G), four rows of motion above three of data.

    Returns terms (6, G) as in `_Solved`: what Gaussian elimination takes from the data's corner.
    """
    log_det = np.zeros(system.shape[2])
    corner = system[_TERMS:, _TERMS:].copy()
    for k in range(_TERMS):
        pivot = system[k, k]
        log_det += np.log(pivot)
        row = system[k, k + 1 :]
        system[k + 1 :, k + 1 :] -= (row / pivot)[:, None] * row[None, :]
    taken = corner - system[_TERMS:, _TERMS:]
    (yy, y0, y1), (_, m00, m01), (_, _, m11) = taken
    return np.stack([0.5 * (yy - log_det), y0, y1, m00, m01, m11])


class _Pairs(NamedTuple):
    """Posterior pieces for P pairs: log evidence, x_r and its variance, each (P,)."""

    log_evidence: FloatArray
    rest_value: FloatArray
    rest_var: FloatArray


def _meet(model: _Model, noise_sd: float, taken: FloatArray) -> _Pairs:
    """A 2 by 2 system for x_r and d for each pair, given what the sides took from it, ``taken`` (6, P)."""
    every = model.data.T @ model.data / noise_sd**2
    matrix, right = every[1:, 1:] + np.diag(model.rest_prior_sd**-2.0), every[1:, 0]
    r0, r1 = right[0] - taken[1], right[1] - taken[2]
    m00, m01, m11 = matrix[0, 0] - taken[3], matrix[0, 1] - taken[4], matrix[1, 1] - taken[5]
    det = m00 * m11 - m01 * m01
    quadratic = (m11 * r0 * r0 - 2 * m01 * r0 * r1 + m00 * r1 * r1) / det
    return _Pairs(taken[0] + 0.5 * (quadratic - np.log(det)), (m11 * r0 - m01 * r1) / det, m11 / det)


@dataclass(frozen=True, slots=True)
class _Found:
    """The posterior on the finest grid, each (P,), the evidence of the whole grid, and the noise."""

    end_of_arrival: FloatArray
    start_of_departure: FloatArray
    pairs: _Pairs
    weight: FloatArray
    log_total: float
    noise_sd: float
    step_s: float


def _search_moment(model: _Model, noise_sd: float, times: FloatArray, known_noise_sd: float) -> _Found:
    """Arrival and departure at one moment, or one side alone: look, then closer until the grid is fine."""
    noise_sd = known_noise_sd or noise_sd
    starts = _MIDDLE_START
    for stage in range(_STAGES):
        index = _moments(times.size, len(model.sides), starts.ways)
        sides = model.solve([times] * len(model.sides), noise_sd, starts)
        pairs = _meet(model, noise_sd, _together(sides, index))
        moment = sides[0].times[index[0]]
        log_weight = pairs.log_evidence + model.log_prior(moment)
        weight = weights(log_weight)
        if stage > 0 and _is_fine(moment, weight, times):
            break
        if stage == 0 and not known_noise_sd:
            noise_sd = _noise_at(model, sides, index, int(weight.argmax()), noise_sd)
        if stage < _STAGES - 1:
            times, starts = _closer(moment, weight, times, stage), _EVERY_START
    step = float(times[1] - times[0])
    total = log_sum(log_weight) + float(np.log(step * times.size / weight.size))
    return _Found(moment, moment, pairs, weight, total, noise_sd, step)


def _search_pause(model: _Model, noise_sd: float, reach_s: float, longest_pause_s: float) -> _Found:
    """Arrival first and departure after a pause: every pair of times, then the pairs that matter, closer."""
    ends = begins = reach_s * _PAUSE_UNIT
    starts = _MIDDLE_START
    for stage in range(_STAGES):
        sides = model.solve([ends, begins], noise_sd, starts)
        pause = sides[1].times[None, :] - sides[0].times[:, None]
        index = np.nonzero((pause > 0) & (pause <= longest_pause_s))
        pairs = _meet(model, noise_sd, _together(sides, index))
        end, begin = sides[0].times[index[0]], sides[1].times[index[1]]
        log_weight = pairs.log_evidence - pause[index] / _PAUSE_MEAN_S + model.log_prior(begin)
        weight = weights(log_weight)
        if stage > 0 and _is_fine(end, weight, ends) and _is_fine(begin, weight, begins):
            break
        if stage == 0:
            noise_sd = _noise_at(model, sides, index, int(weight.argmax()), noise_sd)
        if stage < _STAGES - 1:
            ends, begins = (
                _closer(end, weight, ends, stage),
                _closer(begin, weight, begins, stage),
            )
            starts = _EVERY_START
    step = max(float(ends[1] - ends[0]), float(begins[1] - begins[0]))
    cell = (ends[1] - ends[0]) * (begins[1] - begins[0]) / _PAUSE_MEAN_S / starts.ways**2
    return _Found(end, begin, pairs, weight, log_sum(log_weight) + float(np.log(cell)), noise_sd, step)


@cache
def _moments(moments: int, sides: int, powers: int) -> tuple[NDArray[np.intp], ...]:
    """Entries of each side for every moment with every power of either side."""
    if sides == 1:
        return (np.arange(moments * powers),)
    at, first, second = np.meshgrid(np.arange(moments), np.arange(powers), np.arange(powers), indexing="ij")
    return (at * powers + first).ravel(), (at * powers + second).ravel()


def _together(sides: list[_Solved], index: tuple[NDArray[np.intp], ...]) -> FloatArray:
    """What the sides take, added up for the chosen entries of each, (6, P)."""
    taken = sides[0].terms[:, index[0]]
    return taken if len(sides) == 1 else taken + sides[1].terms[:, index[1]]


def _noise_at(
    model: _Model, sides: list[_Solved], index: tuple[NDArray[np.intp], ...], best: int, noise_sd: float
) -> float:
    """Scatter of the samples about the best fit of the first look, which uses the middle power alone."""
    parts, sizes = [model.data[:, 1:]], list(model.rest_prior_sd)
    for (side, direction), solved, at in zip(model.sides, sides, index, strict=True):
        moment = solved.times[at[best]][None]
        rows = model.monomials(moment, np.array([direction / side.window_s]), _MIDDLE_START)
        parts.append(rows[0, :_TERMS].T)
        sizes += [2.0 * side.size] * _TERMS
    design = np.concatenate(parts, axis=1)[None]
    fit = fit_all(design, model.data[:, 0], noise_sd, np.diag(np.array(sizes) ** -2.0))
    return max(fit.noise_sd(0), model.least_noise_sd)


def _spread(values: FloatArray, weight: FloatArray) -> tuple[float, float]:
    mean = float(weight @ values)
    return mean, float(np.sqrt(weight @ (values - mean) ** 2))


def _spread_95(values: FloatArray, weight: FloatArray) -> float:
    """Half the width of the interval that holds 95 % of the posterior, over 1.96.

    A posterior with a narrow core and a few far outliers (a pause, or a flat top?) has a standard deviation
    that no interval of ±1.96 should be made of: it would hold 99 %.
    """
    order = np.argsort(values)
    held = np.cumsum(weight[order])
    low, high = np.searchsorted(held, [0.025, 0.975])
    return float(values[order[min(high, values.size - 1)]] - values[order[low]]) / (2 * 1.96)


def _is_fine(values: FloatArray, weight: FloatArray, axis: FloatArray) -> bool:
    """Whether the grid resolves the posterior, or is as fine as is of use."""
    step = float(axis[1] - axis[0])
    return step < _FINEST_S or step < 0.8 * _spread(values, weight)[1]


def _closer(values: FloatArray, weight: FloatArray, axis: FloatArray, stage: int) -> FloatArray:
    """A grid over where the posterior lies; wider after the first look, which knew one power only."""
    mean, spread = _spread(values, weight)
    spread = max(spread, 0.5 * float(axis[1] - axis[0]), _FINEST_S)
    half = (4.0 if stage == 0 else 3.0) * spread
    return mean + half * _UNIT


def _summary(found: list[_Found], shares: list[float], model: _Model, centre_s: float) -> RestFit:
    weight = np.concatenate([share * f.weight for f, share in zip(found, shares, strict=True)])
    ends = np.concatenate([f.end_of_arrival for f in found])
    starts = np.concatenate([f.start_of_departure for f in found])
    value = np.concatenate([f.pairs.rest_value for f in found])
    value_var = np.concatenate([f.pairs.rest_var for f in found])
    times = np.stack([ends, starts])
    mean, rest = times @ weight, float(weight @ value)
    centred = times - mean[:, None]
    best = found[int(np.argmax(shares))]
    cell = best.step_s**2 / 12.0  # what the grid itself cannot tell
    rest_var = float(weight @ (value_var + (value - rest) ** 2))
    covariance = (centred * weight) @ centred.T
    spreads = np.sqrt(np.diag(covariance))
    narrowed = np.array([_spread_95(t, weight) for t in times]) / np.maximum(spreads, 1e-9)
    narrowed = np.where(spreads > 1e-9, np.clip(narrowed, 0.0, 1.0), 1.0)
    moves = {direction for _, direction in model.sides}
    nan = float("nan")
    return RestFit(
        float(mean[0]) + centre_s if -1.0 in moves else nan,
        float(mean[1]) + centre_s if 1.0 in moves else nan,
        covariance * np.outer(narrowed, narrowed) + cell + _BETWEEN_POWERS,
        rest, float(np.sqrt(rest_var)), best.noise_sd,
    )  # fmt: skip
