"""Shares of a variance with intervals: each term's covariance with the total over the variance of the total.

That share is the slope of the term on the total. The total (where the ball finished) is all but free of
measurement noise, and noise in a quantity enters two terms with opposite signs and so cancels in the total;
the slope is therefore right without knowing the noise, and its interval is that of a regression. Knowing the
noise makes the best single figure sharper. Method page: docs/methods/error-budget.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.coaching.censored import truncated_draws
from pacewright.coaching.terms import Terms

FloatArray = NDArray[np.float64]

LEVEL = 0.90
SHRINKAGE = 2.0
"""A covariance between two terms is drawn towards 0 by this many times its sampling variance (our choice:
among 0 to 4 the least error over independent and coupled players, see docs/validation-budget.md)."""
IMPUTATIONS = 20
BURN_IN, THINNING = 30, 5
SEED = 20
LEAST_FREEDOM = 4
MOST_FINISH_NOISE = 0.8
"""Of the noted variance, the noise of the finish can be no larger part."""


@dataclass(frozen=True, slots=True)
class ShareFit:
    """Shares of k terms: ``value``, ``low``, ``high`` (k,), the values adding to 1.

    ``covariance`` (k, k) of the terms without measurement noise, adding to ``variance`` of the total;
    ``freedom`` stands behind that variance. ``completed`` (m, n) are the log errors about what was meant, the
    censored ones drawn m times (m = 1 without any).
    """

    value: FloatArray
    low: FloatArray
    high: FloatArray
    covariance: FloatArray
    variance: float
    mean_error: float
    freedom: float
    completed: FloatArray


def fit_shares(data: Terms) -> ShareFit | None:
    """Fit the shares; None when the putts are too few for any interval or all finished alike."""
    freedom = data.log_asked.size - data.design.shape[1] - 1
    seen = ~data.is_censored
    predictors = data.design.shape[1] + len(data.names) - 1
    if freedom < LEAST_FREEDOM or (not seen.all() and int(seen.sum()) < predictors + LEAST_FREEDOM):
        return None
    completed = _completed(data)
    total = _residual(completed, data.design)
    if float(total.var()) < 1e-16:
        return None
    moments = [_moments(data, one, error) for one, error in zip(completed, total, strict=True)]
    slopes = np.array([m.slope for m in moments])
    within = np.array([m.slope_variance for m in moments])
    slope, spread, degrees = _pooled(slopes, within, float(freedom))
    covariance = np.mean([m.covariance for m in moments], axis=0)
    noted = float(np.mean([m.variance for m in moments]))
    # The noise of the finish is in the total as well as in the last term.
    finish_noise = min(data.finish_noise, MOST_FINISH_NOISE * noted)
    variance = noted - finish_noise
    covariance[-1, -1] -= finish_noise
    slope = slope * noted / variance
    slope[-1] -= finish_noise / variance
    reach = _quantile(degrees) * spread * noted / variance
    covariance = _best_covariance(data, covariance, slope, reach)
    value = covariance.sum(axis=1) / covariance.sum()
    return ShareFit(
        value=value,
        low=np.minimum(slope - reach, value),
        high=np.maximum(slope + reach, value),
        covariance=covariance * (variance / covariance.sum()),
        variance=variance,
        mean_error=float(np.mean(completed)),
        freedom=_variance_freedom(moments, freedom, seen),
        completed=total,
    )


@dataclass(frozen=True, slots=True)
class _Moments:
    """Slopes of the terms on the total with sampling variances, and the covariance of the terms."""

    slope: FloatArray
    slope_variance: FloatArray
    covariance: FloatArray
    variance: float


def _residual(values: FloatArray, design: FloatArray) -> FloatArray:
    """What is left of each row of ``values`` (m, n) when what was meant is taken out."""
    return np.asarray(values - (values @ np.linalg.pinv(design).T) @ design.T)


def _moments(data: Terms, log_error: FloatArray, total: FloatArray) -> _Moments:
    values = data.values.copy()
    if data.is_censored.any():
        values[:, -1] = log_error - values[:, :-1].sum(axis=1)
    values = _residual(values.T, data.design).T
    square = float(total @ total)
    slope = values.T @ total / square
    left = values - np.outer(total, slope)
    # HC3 (MacKinnon and White, J. Econometrics 29:305, 1985): holds its level for putts that are not normal.
    leverage = np.sum(data.design * np.linalg.pinv(data.design).T, axis=1) + total**2 / square
    weighted = (total / np.maximum(1.0 - leverage, 1e-3))[:, None] * left
    slope_variance = np.sum(weighted**2, axis=0) / square**2
    freedom = total.size - data.design.shape[1]
    return _Moments(
        slope,
        slope_variance * _block_factor(data.blocks, total, left),
        values.T @ values / freedom,
        square / freedom,
    )


def _block_factor(blocks: tuple[str, ...], total: FloatArray, left: FloatArray) -> FloatArray:
    """How much wider putts that resemble each other within blocks make the variance of each slope, (k,).

    1 + (m − 1)·ρ_total·ρ_rest (Moulton, J. Econometrics 32:385, 1986), with the mean block size weighted by
    size and the intraclass correlations by analysis of variance.
    """
    labels, index, sizes = np.unique(np.array(blocks), return_inverse=True, return_counts=True)
    if not 1 < labels.size < total.size:
        return np.ones(left.shape[1])
    both = _intraclass(np.column_stack([total, left]), index, sizes)
    size = float(np.sum(sizes**2)) / total.size
    return np.asarray(1.0 + (size - 1.0) * both[0] * both[1:])


def _intraclass(values: FloatArray, index: NDArray[np.int64], sizes: NDArray[np.int64]) -> FloatArray:
    """Intraclass correlation of each column, not below 0."""
    count, groups = values.shape[0], sizes.size
    sums = np.zeros((groups, values.shape[1]))
    np.add.at(sums, index, values)
    means = sums / sizes[:, None]
    between = np.sum(sizes[:, None] * (means - values.mean(axis=0)) ** 2, axis=0) / (groups - 1)
    within = np.sum((values - means[index]) ** 2, axis=0) / (count - groups)
    size = (count - float(np.sum(sizes**2)) / count) / (groups - 1)
    component = np.maximum(between - within, 0.0) / size
    return np.asarray(component / np.maximum(component + within, 1e-300))


def _pooled(
    slopes: FloatArray, within: FloatArray, freedom: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Slope, its standard error and freedom over the draws (Barnard and Rubin, Biometrika 86:948, 1999)."""
    mean_within = within.mean(axis=0)
    if slopes.shape[0] == 1:
        return slopes[0], np.sqrt(mean_within), np.full(slopes.shape[1], freedom)
    count = slopes.shape[0]
    between = (1.0 + 1.0 / count) * slopes.var(axis=0, ddof=1)
    total = np.maximum(mean_within + between, 1e-300)
    missing = np.clip(between / total, 1e-9, 1.0 - 1e-9)
    imputed = (count - 1) / missing**2
    observed = (freedom + 1.0) / (freedom + 3.0) * freedom * (1.0 - missing)
    return slopes.mean(axis=0), np.sqrt(total), 1.0 / (1.0 / imputed + 1.0 / observed)


def _quantile(degrees: FloatArray) -> FloatArray:
    from scipy.special import stdtrit

    return np.asarray(stdtrit(degrees, 0.5 + LEVEL / 2.0))


def _best_covariance(data: Terms, covariance: FloatArray, slope: FloatArray, reach: FloatArray) -> FloatArray:
    """Covariance of the terms without measurement noise, chance couplings drawn towards none.

    Each covariance between two terms keeps 1 − SHRINKAGE · (its sampling variance / its square), not below 0
    (the positive-part rule of James and Stein for one entry at a time). Without known noise there is nothing
    to weigh it against, and the plain covariance stays. The result is drawn back towards the plain
    one as far as it takes to have every share within its interval.
    """
    noise = data.noise.copy()
    noise[-1, -1] -= data.finish_noise
    plain = covariance - noise
    if not data.noise_known:
        return plain
    noisy = np.diag(covariance)
    sampling = (np.outer(noisy, noisy) + covariance**2) / (data.log_asked.size - data.design.shape[1])
    kept = np.clip(1.0 - SHRINKAGE * sampling / np.maximum(plain**2, 1e-300), 0.0, 1.0)
    drawn = plain * kept
    np.fill_diagonal(drawn, np.maximum(np.diag(plain), 0.0))
    for share in (1.0, 0.75, 0.5, 0.25):
        mixed = np.asarray(share * drawn + (1.0 - share) * plain)
        if mixed.sum() > 0.2 * plain.sum() and bool(
            np.all(np.abs(mixed.sum(axis=1) / mixed.sum() - slope) <= reach)
        ):
            return mixed
    return plain


def _variance_freedom(moments: list[_Moments], freedom: int, seen: NDArray[np.bool_]) -> float:
    """Degrees of freedom of the total's variance, less what the censored putts leave open (Rubin)."""
    full = freedom + 1.0
    if seen.all():
        return full
    variances = np.log([m.variance for m in moments])
    between = float(variances.var(ddof=1)) * (1.0 + 1.0 / len(moments))
    return max(2.0 / (2.0 / full + between), 1.0)


def _completed(data: Terms) -> FloatArray:
    """Log errors (m, n) with the censored ones drawn from what the stroke and the hole say of them.

    Normal regression of the log error on the measured terms and on what was meant; draws of its
    coefficients, its variance and the hidden errors in turn (Tanner and Wong, JASA 82:528, 1987).
    """
    hidden = data.is_censored
    if not hidden.any():
        return data.log_error[None, :]
    rng = np.random.default_rng(SEED)
    predictors = np.column_stack([data.design, data.values[:, :-1]])
    inverse = np.linalg.pinv(predictors)
    root = np.linalg.cholesky(inverse @ inverse.T + 1e-12 * np.eye(predictors.shape[1]))
    error = np.where(hidden, 0.3 * data.highest, data.log_error)
    freedom = error.size - predictors.shape[1]
    kept = []
    for step in range(BURN_IN + IMPUTATIONS * THINNING):
        centre = inverse @ error
        left = error - predictors @ centre
        sd = math.sqrt(float(left @ left) / rng.chisquare(freedom))
        fitted = predictors @ (centre + sd * root @ rng.standard_normal(centre.size))
        error = error.copy()
        error[hidden] = truncated_draws(fitted[hidden], sd, 0.0, data.highest[hidden], rng)
        if step >= BURN_IN and (step - BURN_IN) % THINNING == THINNING - 1:
            kept.append(error)
    return np.array(kept)
