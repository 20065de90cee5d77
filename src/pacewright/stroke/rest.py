"""Where a motion starts or ends: a rest between two motions, fitted and not thresholded.

Model, on the samples of a window: at rest at x_r (with a slight drift) between t1 and t2; before t1
the head arrives, after t2 it departs,

    x(t) = x_r + d·t + Σ γ_k·((t1 − t)/W)^(p+k)   for t < t1
    x(t) = x_r + d·t + Σ δ_k·((t − t2)/W)^(r+k)   for t > t2        k = 0 … 3

The powers p and r (2, 2.5, 3: a start like t², t³ and between) are averaged over, as are t1 and t2.
Either side may be left out: takeaway after a still address has no arrival. With velocities instead
of positions the same columns are used, differentiated.

A threshold on speed finds a t³ start some 40 ms late (see `docs/methods/events.md`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pacewright.core.recording import FloatArray
from pacewright.stroke.linear import LinearFits, fit_all, weights

_TERMS = 4
_SAMPLES = 40
_ONE_SIDE = ((2.0, 2.0), (2.5, 2.5), (3.0, 3.0))
_TWO_SIDES = ((2.0, 2.0), (2.0, 3.0), (2.5, 2.5), (3.0, 2.0), (3.0, 3.0))
_PAUSE_MEAN_S = 0.08
_NO_PAUSE_SHARE = 0.6


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
) -> RestFit:
    """Fit a rest near ``centre_s`` to samples ``y`` (n,) at ``time_s`` (n,).

    ``y`` holds positions (``derivative`` 0) or velocities (1). The middle of the rest is sought within
    ``half_range_s`` of the centre, its length up to ``longest_pause_s`` (only with both sides).
    """
    t, y, noise_sd = _thinned(time_s - centre_s, y, noise_sd)
    size = max(side.size for side in (arrival, departure) if side is not None)
    model = _Model(t, y, arrival, departure, derivative, size, drift_sd)
    middles = np.linspace(-half_range_s, half_range_s, 21)
    if arrival is None or departure is None or longest_pause_s <= 0:
        moment = _searched(model, noise_sd, middles, np.zeros(1), stages=3)
        return _summary([moment], [1.0], model, centre_s)
    pauses = np.linspace(0.0, longest_pause_s, 8)[1:]
    pause = _searched(model, noise_sd, np.linspace(-half_range_s, half_range_s, 9), pauses, stages=2)
    # The two are compared at one noise, that of the model which can fit more.
    moment = _searched(model, pause.noise_sd, middles, np.zeros(1), stages=3, noise_is_known=True)
    prior = np.log([_NO_PAUSE_SHARE, 1 - _NO_PAUSE_SHARE])
    shares = weights(prior + [moment.log_total, pause.log_total])
    return _summary([moment, pause], list(shares), model, centre_s)


def _thinned(t: FloatArray, y: FloatArray, noise_sd: float) -> tuple[FloatArray, FloatArray, float]:
    """Neighbours averaged until few enough samples are left: a motion from rest is smooth."""
    block = -(-t.size // _SAMPLES)
    if block == 1:
        return t, y, noise_sd
    kept = t.size // block * block
    mean_t, mean_y = (a[:kept].reshape(-1, block).mean(axis=1) for a in (t, y))
    return mean_t, mean_y, noise_sd / np.sqrt(block)


@dataclass(frozen=True, slots=True)
class _Model:
    t: FloatArray
    y: FloatArray
    arrival: Side | None
    departure: Side | None
    derivative: int
    size: float
    drift_sd: float

    def design(self, grid: _Grid) -> FloatArray:
        shape = (grid.end_of_arrival.size, self.t.size)
        parts = [np.ones((*shape, 1))]
        if self.derivative == 0:
            parts.append(np.broadcast_to(self.t, shape)[..., None])
        if self.arrival is not None:
            rate = -1.0 / self.arrival.window_s
            u = (self.t - grid.end_of_arrival[:, None]) * rate
            parts.append(_motion(u, grid.arrival_power, self.derivative, rate))
        if self.departure is not None:
            rate = 1.0 / self.departure.window_s
            u = (self.t - grid.start_of_departure[:, None]) * rate
            parts.append(_motion(u, grid.departure_power, self.derivative, rate))
        return np.concatenate(parts, axis=2)

    def prior_precision(self) -> FloatArray:
        sides = [side for side in (self.arrival, self.departure) if side is not None]
        rest = [self.drift_sd] if self.derivative else [10.0 * self.size + 1.0, self.drift_sd]
        motion = [2.0 * side.size for side in sides for _ in range(_TERMS)]
        return np.diag(np.array(rest + motion) ** -2.0)

    @property
    def power_pairs(self) -> FloatArray:
        both = self.arrival is not None and self.departure is not None
        return np.array(_TWO_SIDES if both else _ONE_SIDE)


def _motion(u: FloatArray, power: FloatArray, derivative: int, rate: float) -> FloatArray:
    """Columns u^(p+k) for k = 0 … (G, N, K), or their time derivative with du/dt = rate."""
    moving = u > 0
    safe = np.where(moving, u, 1.0)
    lead = safe ** (power[:, None] - derivative)
    lead[~moving] = 0.0
    columns = np.empty((*u.shape, _TERMS))
    for k in range(_TERMS):
        columns[..., k] = lead if derivative == 0 else lead * ((power[:, None] + k) * rate)
        lead = lead * safe
    return columns


@dataclass(frozen=True, slots=True)
class _Grid:
    end_of_arrival: FloatArray
    start_of_departure: FloatArray
    arrival_power: FloatArray
    departure_power: FloatArray
    log_cell: FloatArray

    @classmethod
    def of(cls, middles: FloatArray, pauses: FloatArray, pairs: FloatArray) -> _Grid:
        """Every middle with every pause and every pair of powers; ``log_cell`` is the prior of the cell."""
        middle, pause, pair = (
            a.ravel() for a in np.meshgrid(middles, pauses, np.arange(len(pairs)), indexing="ij")
        )
        log_cell = np.full(middle.size, np.log((middles[1] - middles[0]) / len(pairs)))
        if pauses.size > 1:
            log_cell += np.log((pauses[1] - pauses[0]) / _PAUSE_MEAN_S) - pause / _PAUSE_MEAN_S
        return cls(middle - pause / 2, middle + pause / 2, pairs[pair, 0], pairs[pair, 1], log_cell)


@dataclass(frozen=True, slots=True)
class _Searched:
    """The posterior on the finest grid: its weights, and the evidence of the whole grid."""

    grid: _Grid
    fits: LinearFits
    weight: FloatArray
    log_total: float
    noise_sd: float
    step_s: float


def _searched(
    model: _Model, noise_sd: float, middles: FloatArray, pauses: FloatArray, *,
    stages: int, noise_is_known: bool = False,
) -> _Searched:  # fmt: skip
    """Look at the whole grid, then closer and closer at where the posterior lies."""
    first_step = middles[1] - middles[0]
    pairs = model.power_pairs
    for stage in range(stages):
        coarse = stage < stages - 1
        grid = _Grid.of(middles, pauses, pairs[[0, -1]] if coarse and pauses.size > 1 else pairs)
        fits = fit_all(model.design(grid), model.y, noise_sd, model.prior_precision())
        log_weight = fits.log_evidence + grid.log_cell
        weight = weights(log_weight)
        if coarse:
            if not noise_is_known:
                noise_sd = fits.noise_sd(int(weight.argmax()))
            middle = (grid.end_of_arrival + grid.start_of_departure) / 2
            middles = _closer(middle, weight, middles)
            pauses = _closer(grid.start_of_departure - grid.end_of_arrival, weight, pauses, lowest=0.0)
    peak = float(log_weight.max())
    total = peak + float(np.log(np.exp(log_weight - peak).sum())) - float(np.log(first_step))
    return _Searched(grid, fits, weight, total, noise_sd, float(middles[1] - middles[0]))


def _closer(values: FloatArray, weight: FloatArray, axis: FloatArray, lowest: float = -np.inf) -> FloatArray:
    if axis.size == 1:
        return axis
    mean = float(weight @ values)
    spread = max(float(np.sqrt(weight @ (values - mean) ** 2)), 0.5 * float(axis[1] - axis[0]))
    low, high = max(mean - 3.0 * spread, lowest), mean + 3.0 * spread
    step = (high - low) / axis.size
    return np.linspace(low + step / 2, high - step / 2, axis.size)


def _summary(found: list[_Searched], shares: list[float], model: _Model, centre_s: float) -> RestFit:
    weight = np.concatenate([share * s.weight for s, share in zip(found, shares, strict=True)])
    times = np.stack([
        np.concatenate([s.grid.end_of_arrival for s in found]),
        np.concatenate([s.grid.start_of_departure for s in found]),
    ])  # fmt: skip
    rest = np.concatenate([s.fits.mean[:, 0] for s in found])
    mean, value = times @ weight, float(weight @ rest)
    centred = times - mean[:, None]
    best = found[int(np.argmax(shares))]
    cell = best.step_s**2 / 12.0  # what the grid itself cannot tell
    within = best.fits.covariance(np.array([best.weight.argmax()]))[0, 0, 0]
    value_sd = float(np.sqrt(within + weight @ (rest - value) ** 2))
    nan = float("nan")
    return RestFit(
        float(mean[0]) + centre_s if model.arrival is not None else nan,
        float(mean[1]) + centre_s if model.departure is not None else nan,
        (centred * weight) @ centred.T + cell, value, value_sd, best.noise_sd,
    )  # fmt: skip
