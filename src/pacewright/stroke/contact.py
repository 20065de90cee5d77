"""Contact: where the head's speed jumps, and what the golfer was doing just before.

Before contact at tc and after it the head follows two polynomials that meet in place and in nothing
else (τ = t − tc, L and A the lengths of the two windows):

    x(t) = Σ α_k·(τ/L)^k                 for τ ≤ 0,   k = 0 … 6
    x(t) = α_0 + Σ β_j·(τ/A)^j           for τ > 0,   j = 1 … 4

so that speed and acceleration at contact are one-sided limits: v = α_1/L, a = 2·α_2/L². Priors:
α_4 and above have the size they have in a swing of this length and time; the speed kept through
contact is 0.81 ± 0.06 (heads of 300 to 400 g, restitution 0.7 to 0.85; docs/methods/contact.md). tc is
on a grid, and everything is averaged over it.
With velocities (inertial sensors) the columns are the same, differentiated.

Sources: sections either side of an impact are treated apart (Davis and Challis, J. Appl. Biomech.
37:272, 2021). No end condition at contact: a natural one biases speed there by 3 to 4 %.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pacewright.core.recording import FloatArray
from pacewright.stroke.linear import LinearFits, fit_all, log_sum, weights

_BEFORE = 7
_AFTER = 4
SPEED_KEPT_PRIOR = (0.81, 0.06)
NO_BALL_SD = 0.005
PLACE_SCALE_M = 0.012
SMEAR_SHARE = 0.05
"""Prior SD of what a sensor's filter leaves of the jump in one sample, as a share of speed: ours."""


@dataclass(frozen=True, slots=True)
class Swing:
    """Rough figures that set windows and priors: downswing length and time, speed at contact."""

    length_m: float
    time_s: float
    speed_m_s: float


@dataclass(frozen=True, slots=True)
class ContactFit:
    """Contact and the motion at it.

    ``state`` is (x, v, a, v_after) at contact with ``covariance`` (5, 5) of (tc, x, v, a, v_after),
    the uncertainty of tc included. ``before`` (7,) are polynomial coefficients of position (velocity,
    when velocities were fitted, in ``derivative`` form) in τ/``before_window_s``; ``before_covariance``
    goes with them. ``log_odds_of_ball`` weighs a loss of speed to a ball against none.
    """

    time_s: float
    state: FloatArray
    covariance: FloatArray
    before: FloatArray
    before_covariance: FloatArray
    before_window_s: float
    noise_sd: float
    log_odds_of_ball: float

    @property
    def time_sd_s(self) -> float:
        """Standard uncertainty of the time of contact."""
        return float(np.sqrt(self.covariance[0, 0]))


def fit_contact(
    time_s: FloatArray,
    y: FloatArray,
    noise_sd: float,
    swing: Swing,
    *,
    centre_s: float,
    half_range_s: float,
    place_m: float | None,
    seen_to_leave: tuple[float, float] | None = None,
    derivative: int = 0,
) -> ContactFit:
    """Find contact near ``centre_s`` in samples ``y`` (n,) at ``time_s`` (n,).

    ``y`` holds positions (``derivative`` 0) or velocities (1). ``place_m`` is where contact is expected
    along the target line, with a wide-tailed prior of 12 mm; None for no such knowledge.
    ``seen_to_leave`` is when the ball was seen to depart, with its standard uncertainty.
    """
    before_window_s = max(centre_s - float(time_s[0]), 1e-3)
    after_window_s = max(float(time_s[-1]) - centre_s, 1e-3)
    model = _Model(time_s - centre_s, y, swing, before_window_s, after_window_s, derivative)
    whole = grid = np.linspace(-half_range_s, half_range_s, 33)
    with_ball = model.prior_precision(*SPEED_KEPT_PRIOR)
    for stage in range(3):
        fits = model.fit(grid, noise_sd, with_ball)
        log_prior = np.full(grid.size, -np.log(2 * half_range_s))
        if place_m is not None and derivative == 0:
            away = (fits.mean[:, 0] - place_m) / PLACE_SCALE_M
            log_prior = np.log(swing.speed_m_s / (np.pi * PLACE_SCALE_M)) - np.log1p(away**2)
        if seen_to_leave is not None:
            departure_s, departure_sd_s = seen_to_leave
            log_prior = log_prior - 0.5 * ((grid + centre_s - departure_s) / departure_sd_s) ** 2
        log_weight = fits.log_evidence + log_prior
        weight = weights(log_weight)
        if stage > 0 and _is_fine(grid, weight):
            break
        if stage < 2:
            grid = _closer(grid, weight, half_range_s)
            noise_sd = fits.noise_sd(int(weight.argmax()))
    without_ball = model.prior_precision(1.0, NO_BALL_SD)
    whole = whole[::2]
    smooth = model.fit(whole, noise_sd, without_ball)
    log_odds = (
        log_sum(log_weight) + np.log(grid[1] - grid[0]) + np.linalg.slogdet(with_ball)[1] / 2
        - log_sum(smooth.log_evidence) + np.log(whole.size) - np.linalg.slogdet(without_ball)[1] / 2
    )  # fmt: skip
    return model.summary(grid, weight, fits, noise_sd, centre_s, float(log_odds))


def fit_passing(
    time_s: FloatArray, y: FloatArray, noise_sd: float, swing: Swing, *, passing_s: float, derivative: int = 0
) -> ContactFit:
    """The motion where the head passes a place at ``passing_s`` without meeting a ball.

    One polynomial runs through; speed after equals speed before. The time is taken as given (its
    uncertainty is added by the caller, who knows the place).
    """
    window_s = max(passing_s - float(time_s[0]), float(time_s[-1]) - passing_s, 1e-3)
    u = (time_s - passing_s) / window_s
    order = np.arange(_BEFORE)
    if derivative == 0:
        design = u[:, None] ** order
    else:
        design = order * u[:, None] ** np.maximum(order - 1, 0) / window_s
        design[:, 0] = 1.0
    sizes = _derivative_sizes(swing, window_s, derivative)
    fits = fit_all(design[None], y, noise_sd, np.diag(sizes**-2.0))
    noise_sd = fits.noise_sd(0)
    fits = fit_all(design[None], y, noise_sd, np.diag(sizes**-2.0))
    to_state = np.zeros((4, _BEFORE))
    to_state[0, 0], to_state[2, 2] = 1.0, 2 / window_s**2
    to_state[1, 1] = to_state[3, 1] = 1 / window_s
    inner = fits.covariance(np.array([0]))[0]
    covariance = np.zeros((5, 5))
    covariance[1:, 1:] = to_state @ inner @ to_state.T
    return ContactFit(
        passing_s, to_state @ fits.mean[0], covariance, fits.mean[0], inner, window_s, noise_sd, -np.inf
    )


def _derivative_sizes(swing: Swing, window_s: float, derivative: int) -> FloatArray:
    """Prior SD (7,) of the coefficients: diffuse up to the third derivative, the size of a swing above."""
    omega = np.pi / (2 * swing.time_s)
    order = np.arange(_BEFORE)
    factorial = np.cumprod(np.maximum(order, 1)).astype(float)
    loose = np.where(order <= 3, 10.0, 6.0)
    sizes = np.asarray(loose * swing.length_m * (omega * window_s) ** order / factorial, float)
    sizes[0] = 1e-3 if derivative else 1.0
    return sizes


def _is_fine(grid: FloatArray, weight: FloatArray) -> bool:
    """Whether the grid resolves the posterior of the time of contact."""
    mean = float(weight @ grid)
    return float(grid[1] - grid[0]) ** 2 < 0.5 * float(weight @ (grid - mean) ** 2)


def _closer(grid: FloatArray, weight: FloatArray, half_range_s: float) -> FloatArray:
    mean = float(weight @ grid)
    spread = max(float(np.sqrt(weight @ (grid - mean) ** 2)), 0.5 * float(grid[1] - grid[0]))
    low, high = np.clip([mean - 3.5 * spread, mean + 3.5 * spread], -half_range_s, half_range_s)
    return np.linspace(low, high, 21)


@dataclass(frozen=True, slots=True)
class _Model:
    t: FloatArray
    y: FloatArray
    swing: Swing
    before_window_s: float
    after_window_s: float
    derivative: int

    @property
    def columns(self) -> int:
        """How many coefficients: with velocities one more, for the sample that the jump smears."""
        return _BEFORE + _AFTER + self.derivative

    def fit(self, grid: FloatArray, noise_sd: float, precision: FloatArray) -> LinearFits:
        return fit_all(self._design(grid), self.y, noise_sd, precision)

    def _design(self, grid: FloatArray) -> FloatArray:
        tau = self.t - grid[:, None]
        before = np.minimum(tau, 0.0) / self.before_window_s
        after = np.maximum(tau, 0.0) / self.after_window_s
        design = np.zeros((*tau.shape, self.columns))
        if self.derivative == 0:
            design[..., 0] = 1.0
            _powers(before, design[..., 1:_BEFORE])
            _powers(after, design[..., _BEFORE : _BEFORE + _AFTER])
        else:
            is_before = (tau <= 0).astype(float)
            _rates(before, is_before, self.before_window_s, design[..., 1:_BEFORE])
            _rates(after, 1.0 - is_before, self.after_window_s, design[..., _BEFORE : _BEFORE + _AFTER])
            design[..., 0] = 1.0
            nearest = np.abs(tau).argmin(axis=1)
            design[np.arange(grid.size), nearest, -1] = 1.0
        return design

    def prior_precision(self, kept: float, kept_sd: float) -> FloatArray:
        """Sizes of a swing before, wide ones after; the speed kept links the two sides."""
        swing, L, A = self.swing, self.before_window_s, self.after_window_s
        sd_before = _derivative_sizes(swing, L, self.derivative)
        after = np.arange(2, _AFTER + 1)
        sizes_after = np.array([8.0 / 2, 150.0 / 6, 3000.0 / 24])
        sd_after = max(swing.speed_m_s, 0.5) * sizes_after * A**after
        precision = np.zeros((self.columns, self.columns))
        precision[np.arange(_BEFORE), np.arange(_BEFORE)] = sd_before**-2.0
        tail = np.arange(_BEFORE + 1, _BEFORE + _AFTER)
        precision[tail, tail] = sd_after**-2.0
        if self.derivative:
            precision[-1, -1] = (SMEAR_SHARE * swing.speed_m_s) ** -2.0
        link = np.zeros(self.columns)
        link[1], link[_BEFORE] = -kept / L, 1.0 / A
        precision += np.outer(link, link) / (kept_sd * swing.speed_m_s) ** 2
        return precision

    def summary(
        self, grid: FloatArray, weight: FloatArray, fits: LinearFits, noise_sd: float, centre_s: float,
        log_odds: float,
    ) -> ContactFit:  # fmt: skip
        L, A = self.before_window_s, self.after_window_s
        to_state = np.zeros((4, self.columns))
        to_state[0, 0], to_state[1, 1], to_state[2, 2], to_state[3, _BEFORE] = 1.0, 1 / L, 2 / L**2, 1 / A
        best = int(weight.argmax())
        covariance = fits.covariance(np.array([best]))[0]
        values = np.column_stack([grid, fits.mean @ to_state.T])
        mean = weight @ values
        centred = values - mean
        total = (centred * weight[:, None]).T @ centred
        total[1:, 1:] += to_state @ covariance @ to_state.T
        return ContactFit(
            float(mean[0]) + centre_s, mean[1:], total, fits.mean[best, :_BEFORE],
            covariance[:_BEFORE, :_BEFORE], L, noise_sd, log_odds,
        )  # fmt: skip


def _powers(u: FloatArray, out: FloatArray) -> None:
    """u, u², … into out (…, K)."""
    out[..., 0] = u
    for k in range(1, out.shape[-1]):
        np.multiply(out[..., k - 1], u, out=out[..., k])


def _rates(u: FloatArray, inside: FloatArray, window_s: float, out: FloatArray) -> None:
    """Time derivatives of u, u², … inside their side of contact, into out (…, K)."""
    lead = inside / window_s
    for k in range(out.shape[-1]):
        np.multiply(lead, k + 1.0, out=out[..., k])
        lead = lead * u
