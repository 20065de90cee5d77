"""One session's length errors: centre, trend and spread, with holed putts as censored observations.

The error of a putt is log(roll-out / asked length), near enough its share of the distance. A session is
fitted by a line in log asked length (where lengths differ) plus, where the order of the putts shows it
clearly, a warm-up that halves every three putts and a steady trend. Residuals beyond 2.6 robust
standard deviations are drawn in to there, so that one mishit does not decide a verdict.
Method page: docs/methods/progress.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.coaching.outcomes import CAPTURED_AT_MOST_PAST_M
from pacewright.core.errors import QualityError

FloatArray = NDArray[np.float64]

CLIP_SDS = 2.6
"""Residuals are drawn in beyond this many robust SDs; heavy tails then have a kurtosis near 3, as normal."""
MAD_TO_SD = 1.4826
"""Median absolute deviation to standard deviation of a normal spread."""
WARM_UP_HALVING_PUTTS = 3.0
TREND_LEVEL = 0.01
"""A warm-up or trend is taken out only where an F test at this level sees it."""
LEAST_SHARE = 0.05
"""A putt that hardly moved counts as this share of the length asked (its log would be −∞)."""
LEAST_PUTTS = 3
MOST_STEPS = 100
TOLERANCE = 1e-5
"""Of the spread: far below what any number of putts tells."""
MISHIT_SDS = 3.5


@dataclass(frozen=True, slots=True)
class SessionFit:
    """The fit of one session of n putts.

    ``residual`` (n,) are log errors about the fit (for holed putts the root of the expected square),
    ``design`` (n, p) the fitted columns, ``is_seen`` (n,) false for holed putts without a finish.
    ``spread`` is the SD of the log error, mishits drawn in and allowed for (Huber's proposal 2).
    ``freedom`` counts what the putts tell about spread: n − p, less what holed putts hide.
    ``mean_error`` is the log error of the average putt with standard error ``mean_error_sd``.
    ``warm_up`` is the log error of the first putt over the settled one, ``trend`` the change from first
    to last putt; both nan when the order shows neither.
    """

    residual: FloatArray
    design: FloatArray
    is_seen: NDArray[np.bool_]
    spread: float
    freedom: float
    mean_error: float
    mean_error_sd: float
    warm_up: float
    trend: float

    @property
    def putts(self) -> int:
        """Number of putts, holed ones included."""
        return int(self.residual.size)

    def sum_of_squares(self, limit: float) -> float:
        """Sum of squares with ``freedom`` degrees, seen residuals drawn in beyond ±``limit``."""
        drawn = _drawn_in(self.residual[self.is_seen], limit)
        design = self.design[self.is_seen]
        drawn = drawn - design @ (_solver(design) @ drawn)
        total = float(drawn @ drawn) + float(np.sum(self.residual[~self.is_seen] ** 2))
        return total * self.freedom / float(self.putts - self.design.shape[1])

    @property
    def mishits(self) -> int:
        """Putts further out than a normal spread brings in thousands of putts."""
        return int(np.sum(np.abs(self.residual[self.is_seen]) > MISHIT_SDS * self.spread))


def robust_scale(residuals: Sequence[FloatArray]) -> float:
    """Robust SD of pooled residuals about zero."""
    return MAD_TO_SD * _median(np.abs(np.concatenate(residuals)))


def _median(values: FloatArray) -> float:
    """As `np.median` of values without nan, in a fifth of its time for a session of putts."""
    ordered = np.sort(values)
    middle = values.size // 2
    return float(ordered[middle] if values.size % 2 else 0.5 * (ordered[middle - 1] + ordered[middle]))


def _drawn_in(values: FloatArray, limit: float) -> FloatArray:
    return np.asarray(np.minimum(np.maximum(values, -limit), limit))


def clipped_variance(limit: float) -> float:
    """Variance of a standard normal drawn in to ±``limit``."""
    density = math.exp(-0.5 * limit**2) / math.sqrt(2.0 * math.pi)
    outside = math.erfc(limit / math.sqrt(2.0))
    return 1.0 - outside - 2.0 * limit * density + limit**2 * outside


_DRAWN_IN_VARIANCE = clipped_variance(CLIP_SDS)


def log_errors(asked_m: FloatArray, finish_along_m: FloatArray) -> FloatArray:
    """log(finish / asked), (n,); nan where the finish is unknown; floors a putt that hardly moved."""
    share = np.asarray(finish_along_m, dtype=float) / np.asarray(asked_m, dtype=float)
    with np.errstate(invalid="ignore"):
        return np.asarray(np.log(np.maximum(share, LEAST_SHARE)))


def fit_session(asked_m: FloatArray, error: FloatArray, name: str = "session") -> SessionFit:
    """Fit one session in the order in which the putts were played.

    ``asked_m`` (n,) and ``error`` (n,) as `log_errors` gives them, nan for a holed putt without a finish.
    Raises QualityError with fewer than three seen putts or without any spread.
    """
    seen = np.isfinite(error)
    if int(seen.sum()) < LEAST_PUTTS:
        raise QualityError(
            f"The {name} has {int(seen.sum())} putts with a finish; a spread needs {LEAST_PUTTS} or more."
        )
    reach = np.log1p(CAPTURED_AT_MOST_PAST_M / np.asarray(asked_m, dtype=float))
    base = _base_design(asked_m)
    plain = _fit(base, error, reach)
    order = _order_columns(error.size)
    full = np.column_stack([base, order])
    if _order_is_clear(full, plain, seen):
        return _session(full, _fit(full, error, reach), seen, order=order)
    return _session(base, plain, seen, order=None)


def _base_design(asked_m: FloatArray) -> FloatArray:
    log_asked = np.log(np.asarray(asked_m, dtype=float))
    columns = [np.ones(log_asked.size)]
    # A slope needs lengths that differ by more than a reading error, and putts enough to carry it.
    if float(np.ptp(log_asked)) > 0.05 and log_asked.size >= 6:
        columns.append(log_asked - log_asked.mean())
    return np.column_stack(columns)


def _solver(design: FloatArray) -> FloatArray:
    """Matrix (p, n) of least squares; the columns are few, centred and far from parallel."""
    return np.asarray(np.linalg.solve(design.T @ design, design.T))


def _order_columns(putts: int) -> FloatArray:
    index = np.arange(putts, dtype=float)
    warm_up = 0.5 ** (index / WARM_UP_HALVING_PUTTS)
    trend = index / max(putts - 1, 1) - 0.5
    return np.column_stack([warm_up - warm_up.mean(), trend])


@dataclass(frozen=True, slots=True)
class _Fit:
    """Coefficients (p,), SD, residuals (n,) with holed ones as root expected squares.

    ``putts_for_spread`` and ``putts_for_mean`` are the numbers of seen putts that would tell as much.
    """

    coefficients: FloatArray
    sd: float
    residual: FloatArray
    putts_for_spread: float
    putts_for_mean: float


def _fit(design: FloatArray, error: FloatArray, reach: FloatArray) -> _Fit:
    """Least squares on drawn-in residuals, holed putts by expectation and maximisation.

    ``reach`` (n,) is the log error beyond which no hole takes the ball.
    """
    seen = np.isfinite(error)
    all_seen = bool(seen.all())
    guess = np.where(seen, error, 0.0)
    coefficients = np.zeros(design.shape[1])
    coefficients[0] = _median(guess)
    sd = max(MAD_TO_SD * _median(np.abs(guess - coefficients[0])), 1e-12)
    told = np.repeat([[1.0, 0.0, 2.0]], error.size, axis=0)
    inverse = _solver(design)
    freedom = max(error.size - design.shape[1], 1)
    for _ in range(MOST_STEPS):
        fitted = design @ coefficients
        drawn = _drawn_in(guess - fitted, CLIP_SDS * sd)
        square = drawn**2
        if not all_seen:
            drawn[~seen], square[~seen], told[~seen] = _holed_moments(fitted[~seen], reach[~seen], sd)
        step = inverse @ drawn
        coefficients = coefficients + step
        total = max(float(square.sum()) - float(np.sum((design @ step) ** 2)), 0.0)
        last, sd = sd, max(math.sqrt(total / freedom / _DRAWN_IN_VARIANCE), 1e-12)
        if abs(sd - last) < TOLERANCE * sd and float(np.abs(step).max()) < TOLERANCE * sd:
            break
    residual = np.where(seen, error - design @ coefficients, np.sqrt(square))
    mean, both, spread = (float(total) for total in told.sum(axis=0))
    return _Fit(coefficients, sd, residual, (spread - both**2 / mean) / 2.0, mean - both**2 / spread)


def _holed_moments(
    fitted: FloatArray, reach: FloatArray, sd: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean and mean square (h,) about the fit of putts that only reached the hole, and what they tell.

    The log error lies between 0 and ``reach``. The information (h, 3) about mean and mean, mean and log SD,
    log SD and log SD is that of a seen putt less what is hidden (Louis, J. R. Stat. Soc. B 44:226, 1982).
    """
    from scipy.special import ndtr

    low, high = -fitted / sd, (reach - fitted) / sd
    mass = np.maximum(ndtr(high) - ndtr(low), 1e-12)
    edges = [np.exp(-0.5 * edge**2) / math.sqrt(2.0 * math.pi) / mass for edge in (low, high)]
    powers = [low**k * edges[0] - high**k * edges[1] for k in range(4)]
    first, second = powers[0], 1.0 + powers[1]
    third, fourth = 2.0 * first + powers[2], 3.0 * second + powers[3]
    hidden = np.stack([second - first**2, third - first * second, fourth - second**2], axis=-1)
    return sd * first, sd**2 * np.maximum(second, 0.0), np.array([1.0, 0.0, 2.0]) - hidden


def _order_is_clear(full: FloatArray, plain: _Fit, seen: NDArray[np.bool_]) -> bool:
    """Whether the order columns explain more of the plain residuals than luck would at `TREND_LEVEL` (F)."""
    from scipy.special import fdtrc

    freedom = int(seen.sum()) - full.shape[1]
    if freedom < 4:
        return False
    drawn = np.where(seen, _drawn_in(plain.residual, CLIP_SDS * plain.sd), 0.0)
    added = full.shape[1] - plain.coefficients.size
    explained = float(np.sum((full @ (_solver(full) @ drawn)) ** 2))
    rest = float(np.sum(drawn**2)) - explained
    return rest > 0.0 and float(fdtrc(added, freedom, explained / added / (rest / freedom))) < TREND_LEVEL


def _session(design: FloatArray, fit: _Fit, seen: NDArray[np.bool_], order: FloatArray | None) -> SessionFit:
    columns = design.shape[1]
    if fit.sd <= 1e-9:
        raise QualityError("Every putt shows the same error: there is no spread to judge; check the columns.")
    warm_up = trend = math.nan
    if order is not None:
        warm_up = float(fit.coefficients[-2] * np.ptp(order[:, 0]))
        trend = float(fit.coefficients[-1])
    return SessionFit(
        residual=fit.residual,
        design=design,
        is_seen=seen,
        spread=fit.sd,
        freedom=max(fit.putts_for_spread - columns, 1.0),
        mean_error=float(fit.coefficients[0]),
        mean_error_sd=fit.sd / math.sqrt(fit.putts_for_mean),
        warm_up=warm_up,
        trend=trend,
    )
