"""Evidence that stays valid under peeking: test martingales for a change of spread and of mean.

The likelihood ratio of the maximal invariant (nuisance mean, trend and scale dropped by invariance,
which equals a Bayes factor with the right Haar prior) is a test martingale, so its chance of *ever*
reaching 1/α under no change is at most α, however often one looks (Ville). Sources: Pérez-Ortiz,
Lardy, de Heide and Grünwald, Ann. Statist. 52:1410 (2024); for the t statistic, Gönen et al.,
Am. Stat. 59:252 (2005). No change does not mean the same spread: a player's form differs from day to day, and
each session has its own. The likelihood is averaged over that form on both sides, so that the ratio of the
averages is a test martingale for players who did not change but have such days.
Method page: docs/methods/progress.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

DAY_FORM = 0.06
"""SD of the log spread of one player from day to day: a spread of 10 % lies between 9.1 and 11.0 % on nine
days in ten (our choice; no published figure found, see docs/decisions/0024-day-to-day-form.md)."""
DAY_BIAS = 0.25
"""SD of a day's average error, and of a day's average time, in units of the spread (our choice)."""
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


@cache
def _falls(day_form: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Falls of log spread between two days, with their weights without a change and with one.

    The two days differ by √2·``day_form`` (SD); with 0 the falls are those of `CHANGE_SIZES`, and none.
    """
    if day_form == 0.0:
        falls = np.concatenate([[0.0], CHANGE_SIZES])
        unchanged = np.zeros(falls.size)
        unchanged[0] = 1.0
        return falls, unchanged, np.concatenate([[0.0], CHANGE_WEIGHTS])
    between = math.sqrt(2.0) * day_form
    falls = np.arange(-7.0 * between, float(CHANGE_SIZES.max()) + 5.0 * between, between / 4.0)
    kernels = np.exp(-0.5 * ((falls - np.concatenate([[0.0], CHANGE_SIZES])[:, None]) / between) ** 2)
    kernels /= kernels.sum(axis=1, keepdims=True)
    return falls, kernels[0], CHANGE_WEIGHTS @ kernels[1:]


def log_evidence_smaller(
    variance_ratio: ArrayLike,
    freedom_before: ArrayLike,
    freedom_after: ArrayLike,
    day_form: float = DAY_FORM,
) -> FloatArray:
    """Log evidence that the player's spread became smaller, against no change.

    ``variance_ratio`` is the sum of squares after over the sum of squares before, each about its own
    mean (or regression); the freedoms are those of the sums. All broadcast. exp of the result is a test
    martingale for a player with normal errors whose log spread strays from day to day by ``day_form`` (SD),
    averaged over `CHANGE_SIZES`. For evidence of a larger spread swap the sessions (and invert the ratio).
    """
    falls, unchanged, changed = _falls(day_form)
    ratio = np.asarray(variance_ratio, dtype=float)[..., None]
    before = np.asarray(freedom_before, dtype=float)[..., None]
    after = np.asarray(freedom_after, dtype=float)[..., None]
    terms = after * falls + 0.5 * (before + after) * (np.log1p(ratio) - np.log1p(ratio * np.exp(2.0 * falls)))
    likelihoods = np.exp(terms - terms.max(axis=-1, keepdims=True))
    # Either average may be 0 in floating point where the ratio is far out: then the evidence is very large.
    tiny = 1e-300
    return np.asarray(
        np.log(np.maximum(likelihoods @ changed, tiny)) - np.log(np.maximum(likelihoods @ unchanged, tiny))
    )


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


def between_days(error: float, size: float) -> tuple[float, float]:
    """Standard error of a change of mean and its effective number of putts, a day's own bias allowed for.

    Two days differ by √2·`DAY_BIAS` spreads, so 1/size grows by 2·`DAY_BIAS`² and the error with its root.
    """
    growth = 1.0 + 2.0 * DAY_BIAS**2 * size
    return error * math.sqrt(growth), size / growth


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
