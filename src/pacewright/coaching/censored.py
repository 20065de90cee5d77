"""Normal errors of which some are only known to lie in an interval: holed putts are such observations.

Tobin, Econometrica 26:24 (1958), with two limits; fitted by expectation and maximisation (Dempster,
Laird and Rubin, J. R. Stat. Soc. B 39:1, 1977). Method page: docs/methods/outcomes.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

MOST_STEPS = 500
TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True)
class CensoredFit:
    """Mean and SD of n normal values, and ``information``: how many seen values would tell as much.

    ``value`` (n,) holds the seen values, and the expected ones where only limits were known;
    ``freedom`` are the degrees of freedom behind ``sd``.
    """

    mean: float
    sd: float
    mean_sd: float
    freedom: float
    value: FloatArray


def truncated_moments(
    mean: FloatArray, sd: FloatArray, low: FloatArray, high: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mean and variance of normal values known to lie between ``low`` and ``high``; all broadcast.

    Where the limits lie far in one tail the value is taken to sit at the nearer limit.
    """
    from scipy.special import ndtr

    a, b = (low - mean) / sd, (high - mean) / sd
    # The upper tail is flipped to the lower one, where the distribution function keeps its digits.
    flip = a > 0.0
    a, b = np.where(flip, -b, a), np.where(flip, -a, b)
    mass = ndtr(b) - ndtr(a)
    density_a = np.exp(-0.5 * a**2) / math.sqrt(2.0 * math.pi)
    density_b = np.exp(-0.5 * b**2) / math.sqrt(2.0 * math.pi)
    safe = np.maximum(mass, 1e-300)
    first = (density_a - density_b) / safe
    # a·φ(a) is 0 at an infinite limit, where the plain product would be nan.
    edge_a = np.where(np.isfinite(a), a, 0.0) * density_a
    edge_b = np.where(np.isfinite(b), b, 0.0) * density_b
    variance = 1.0 + (edge_a - edge_b) / safe - first**2
    beyond = mass < 1e-290
    first = np.where(beyond, b, first)
    variance = np.where(beyond, 0.0, np.clip(variance, 0.0, 1.0))
    return mean + sd * np.where(flip, -first, first), sd**2 * variance


def fit_censored(value: FloatArray, low: FloatArray, high: FloatArray) -> CensoredFit:
    """Maximum likelihood for normal values of which some, nan in ``value``, lie between ``low`` and ``high``.

    All (n,). The SD is that of n − 1 degrees of freedom, fewer by what the limits hide. With no seen value
    to set a scale, or only one in all, the SD is nan.
    """
    seen = np.isfinite(value)
    guess = np.where(seen, value, np.where(np.isfinite(low), low, high))
    mean, sd = float(guess.mean()), float(guess.std(ddof=1)) if value.size > 1 else math.nan
    if seen.all() or not seen.any() or value.size < 3:
        known = math.nan if not seen.any() else sd
        return CensoredFit(mean, known, known / math.sqrt(value.size), value.size - 1.0, guess)
    hidden = ~seen
    variance = np.zeros(value.size)
    sd = max(sd, 1e-9)
    for _ in range(MOST_STEPS):
        last = mean, sd
        guess[hidden], variance[hidden] = truncated_moments(
            np.full(int(hidden.sum()), mean), np.full(int(hidden.sum()), sd), low[hidden], high[hidden]
        )
        mean = float(guess.mean())
        sd = max(math.sqrt(float(np.sum((guess - mean) ** 2 + variance)) / (value.size - 1)), 1e-9)
        if abs(mean - last[0]) + abs(sd - last[1]) < TOLERANCE * sd:
            break
    # What a hidden value keeps of the information about the mean (Louis, J. R. Stat. Soc. B 44:226, 1982).
    information = float(np.sum(1.0 - variance / sd**2))
    return CensoredFit(mean, sd, sd / math.sqrt(information), max(information - 1.0, 1.0), guess)


def truncated_draws(
    mean: FloatArray, sd: float, low: float, high: FloatArray, rng: np.random.Generator
) -> FloatArray:
    """Draws (n,) of normal values known to lie between ``low`` and ``high``, by the inverse distribution."""
    from scipy.special import ndtr, ndtri

    a, b = (low - mean) / sd, (high - mean) / sd
    flip = a > 0.0  # keeps the digits of the upper tail
    lower, upper = ndtr(np.where(flip, -b, a)), ndtr(np.where(flip, -a, b))
    drawn = ndtri(np.clip(lower + (upper - lower) * rng.uniform(size=mean.shape), 1e-300, 1.0 - 1e-16))
    return np.asarray(np.clip(mean + sd * np.where(flip, -drawn, drawn), low, high))
