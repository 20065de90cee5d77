"""Judgement apart from execution: putts to ever new lengths against one putt repeated.

Who repeats one putt need not read it again, so what still scatters is execution and the green; what mixed
lengths add is judgement (Karlsen and Nilsson 2008: SD 10.6 % mixed, 6.8 % repeated, 2.5 % the surface
alone). Method page: docs/methods/error-budget.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.coaching.terms import SAME_LENGTH_LOG, Terms

FloatArray = NDArray[np.float64]

SURFACE_SPREAD = 0.025
"""Spread of distance by the surface alone (Karlsen and Nilsson 2008), where the green's own is not known."""
LEAST_REPEATS = 4
LEAST_LENGTHS = 4
LEAST_FREEDOM = 6


@dataclass(frozen=True, slots=True)
class JudgementSplit:
    """Shares of the variance of distance in mixed putts: ``reading``, ``execution`` and ``green`` add to 1.

    ``reading_low`` and ``reading_high`` are its 90 % interval (F distribution; nan without counts). The
    spreads are those of log roll-out in mixed and repeated putts.
    """

    reading: float
    execution: float
    green: float
    reading_low: float
    reading_high: float
    mixed_spread: float
    repeated_spread: float
    mixed_putts: int = 0
    repeated_putts: int = 0


def shares_from_spreads(
    mixed: float, repeated: float, green: float = SURFACE_SPREAD
) -> tuple[float, float, float]:
    """Shares of reading, execution and green from three spreads in one unit."""
    return (mixed**2 - repeated**2) / mixed**2, (repeated**2 - green**2) / mixed**2, green**2 / mixed**2


def split_judgement(
    completed: FloatArray, data: Terms, green_spread: float | None = None
) -> JudgementSplit | None:
    """The split, from log errors (m, n) about what was meant; None without blocks of both kinds."""
    labels = np.array(data.blocks)
    mixed, repeated = _Pool(), _Pool()
    for label in dict.fromkeys(data.blocks):
        if not label:
            continue
        inside = labels == label
        log_asked = data.log_asked[inside]
        if float(np.ptp(log_asked)) <= SAME_LENGTH_LOG and log_asked.size >= LEAST_REPEATS:
            repeated.add(completed[:, inside], log_asked, data.is_censored[inside])
        elif np.unique(np.round(log_asked / SAME_LENGTH_LOG)).size >= LEAST_LENGTHS:
            mixed.add(completed[:, inside], log_asked, data.is_censored[inside])
    if min(mixed.freedom, repeated.freedom) < LEAST_FREEDOM:
        return None
    green = SURFACE_SPREAD if green_spread is None else green_spread
    # The surface is part of what repeated putts scatter by, so it cannot be more.
    green = min(green, repeated.spread)
    reading, execution, surface = shares_from_spreads(mixed.spread, repeated.spread, green)
    low, high = _reading_interval(mixed, repeated)
    return JudgementSplit(
        reading, execution, surface, low, high, mixed.spread, repeated.spread, mixed.putts, repeated.putts
    )


class _Pool:
    """Squares of log errors about each block's own centre, pooled over blocks of one kind."""

    def __init__(self) -> None:
        self.squares = 0.0
        self.freedom = 0
        self.putts = 0

    def add(self, errors: FloatArray, log_asked: FloatArray, censored: NDArray[np.bool_]) -> None:
        columns = [np.ones(log_asked.size)]
        if float(np.ptp(log_asked)) > SAME_LENGTH_LOG:
            columns.append(log_asked - log_asked.mean())
        design = np.column_stack(columns)
        left = errors - (errors @ np.linalg.pinv(design).T) @ design.T
        freedom = log_asked.size - design.shape[1]
        # A drawn error says less than a seen one: its putt does not count towards the certainty.
        told = max(freedom - int(censored.sum()), 0)
        self.squares += float(np.mean(np.sum(left**2, axis=1))) * told / freedom
        self.freedom += told
        self.putts += log_asked.size

    @property
    def spread(self) -> float:
        return math.sqrt(self.squares / self.freedom)


def _reading_interval(mixed: _Pool, repeated: _Pool) -> tuple[float, float]:
    from scipy.special import fdtri

    ratio = (repeated.spread / mixed.spread) ** 2
    low = ratio / float(fdtri(repeated.freedom, mixed.freedom, 0.95))
    high = ratio / float(fdtri(repeated.freedom, mixed.freedom, 0.05))
    return 1.0 - high, 1.0 - low
