"""Evidence that stays valid under peeking: test martingales for a change of spread and of mean.

The likelihood ratio of the maximal invariant (nuisance mean, trend and scale dropped by invariance,
which equals a Bayes factor with the right Haar prior) is a test martingale, so its chance of *ever*
reaching 1/α under no change is at most α, however often one looks (Ville). Sources: Pérez-Ortiz,
Lardy, de Heide and Grünwald, Ann. Statist. 52:1410 (2024); for the t statistic, Gönen et al.,
Am. Stat. 59:252 (2005). Method page: docs/methods/progress.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

MEAN_EFFECT_VARIANCE = 0.25
"""Prior variance of a change of mean in units of the spread: half a spread is usual (our choice)."""


def _change_sizes() -> tuple[FloatArray, FloatArray]:
    """The changes of log spread that the test looks for, with weights that add to 1 (our choice).

    Three quarters of the weight on changes that practice may bring and a session may show (lognormal about
    0.4, a spread a third smaller); the rest on small ones, for long sessions, and on large ones, for short.
    """
    from statistics import NormalDist

    usual = NormalDist(math.log(0.4), 0.3)
    middle = np.exp([usual.inv_cdf((i + 0.5) / 24) for i in range(24)])
    small, large = np.geomspace(0.03, 0.25, 12), np.geomspace(0.7, 1.6, 8)
    weights = [np.full(24, 0.75 / 24), np.full(12, 0.15 / 12), np.full(8, 0.10 / 8)]
    return np.concatenate([middle, small, large]), np.concatenate(weights)


CHANGE_SIZES, CHANGE_WEIGHTS = _change_sizes()


def log_evidence_smaller(
    variance_ratio: ArrayLike, freedom_before: ArrayLike, freedom_after: ArrayLike
) -> FloatArray:
    """Log evidence that the later spread is smaller, against no change.

    ``variance_ratio`` is the sum of squares after over the sum of squares before, each about its own
    mean (or regression); the freedoms are those of the sums. All broadcast. exp of the result is a test
    martingale under equal normal spreads, averaged over `CHANGE_SIZES`.
    For evidence of a larger spread swap the sessions (and invert the ratio).
    """
    ratio = np.asarray(variance_ratio, dtype=float)[..., None]
    before = np.asarray(freedom_before, dtype=float)[..., None]
    after = np.asarray(freedom_after, dtype=float)[..., None]
    terms = after * CHANGE_SIZES + 0.5 * (before + after) * (
        np.log1p(ratio) - np.log1p(ratio * np.exp(2.0 * CHANGE_SIZES))
    )
    top = terms.max(axis=-1)
    averaged: FloatArray = top + np.log(np.exp(terms - top[..., None]) @ CHANGE_WEIGHTS)
    return averaged


def critical_variance_ratio(freedom_before: float, freedom_after: float, alpha: float) -> float:
    """Sum-of-squares ratio (after over before) at and under which the evidence reaches 1/``alpha``.

    0 when so few putts cannot reach it at all.
    """
    goal = -math.log(alpha)

    def evidence(log_ratio: float) -> float:
        value = log_evidence_smaller(math.exp(log_ratio), freedom_before, freedom_after)
        return float(value) - goal

    if evidence(-40.0) < 0.0:
        return 0.0
    return math.exp(decreasing_root(evidence, -40.0, 40.0))


def decreasing_root(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a decreasing function crosses zero, by bisection to 1e-12 of the span; ends when outside."""
    if function(high) >= 0.0:
        return high
    for _ in range(40):
        middle = 0.5 * (low + high)
        if function(middle) >= 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def log_evidence_mean(statistic: float, freedom: float, size: float) -> float:
    """Log evidence for a changed mean from a t statistic with that freedom.

    ``size`` is the effective number of putts (1/(1/n₁+1/n₂) for two sessions): the effect, in units of
    the spread, has prior variance `MEAN_EFFECT_VARIANCE`.
    """
    spread = 1.0 + size * MEAN_EFFECT_VARIANCE
    squared = statistic**2 / freedom
    return 0.5 * (freedom + 1.0) * (math.log1p(squared) - math.log1p(squared / spread)) - 0.5 * math.log(
        spread
    )


def critical_t(freedom: float, size: float, alpha: float) -> float:
    """|t| at which `log_evidence_mean` reaches 1/``alpha``; inf when so few putts cannot reach it."""
    spread = 1.0 + size * MEAN_EFFECT_VARIANCE
    if freedom <= 0.0:
        return math.inf
    needed = (math.sqrt(spread) / alpha) ** (2.0 / (freedom + 1.0))
    if needed >= spread:
        return math.inf
    return math.sqrt(freedom * (needed - 1.0) / (1.0 - needed / spread))


def holm(chances: Sequence[float]) -> list[float]:
    """Holm's adjusted chances (Scand. J. Stat. 6:65, 1979), in the order given."""
    order = sorted(range(len(chances)), key=lambda i: chances[i])
    adjusted = [1.0] * len(chances)
    highest = 0.0
    for rank, index in enumerate(order):
        highest = max(highest, min(1.0, (len(chances) - rank) * chances[index]))
        adjusted[index] = highest
    return adjusted
