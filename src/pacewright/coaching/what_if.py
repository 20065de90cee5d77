"""What mending a cause would bring: a new spread, and what that saves on the course.

Method page: docs/methods/error-budget.md.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pacewright.coaching.budget import ErrorBudget, as_share, spread_with
from pacewright.coaching.on_the_green import (
    FIRST_PUTTS,
    LINE_SD_RAD,
    Holing,
    Putting,
    RoundOutcome,
    round_outcome,
)
from pacewright.coaching.outcomes import Score
from pacewright.coaching.terms import Terms
from pacewright.core.errors import SettingsError

FloatArray = NDArray[np.float64]
Reason = Literal["asked", "best third", "half"]

SPELL_PUTTS = 8
"""Putts in a spell; fewer where there would be less than six spells, but at least five."""
LEAST_SPELLS = 6
LEAST_SPELL_PUTTS = 5
LUCK_DRAWS = 1000
SEED = 8


@dataclass(frozen=True, slots=True)
class Spells:
    """How steady a cause was in the steadiest third of the session's spells.

    ``factor`` is its SD there over its SD in all, freed of measurement noise and of what choosing the
    best of several lucky spells does; 1 where luck alone explains the best spells. ``chance`` is how often
    luck alone makes the spells differ this much.
    """

    factor: float
    spells: int
    putts_each: int
    chance: float


@dataclass(frozen=True, slots=True)
class Payoff:
    """If ``cause`` varied by ``factor`` of what it does: spreads as shares of the distance, and the round."""

    cause: str
    factor: float
    reason: Reason
    spread_now: float
    spread_then: float
    round_now: RoundOutcome
    round_then: RoundOutcome
    spells: Spells | None = None


@dataclass(frozen=True, slots=True)
class Course:
    """What a spread is played out on: the player's spread of direction, the first putts of a round, each
    (length in m, how many), and whose chances hold for the putt after."""

    line_sd_rad: float
    first_putts: tuple[tuple[float, float], ...] = FIRST_PUTTS
    holing: Holing = "amateur"

    def round(self, log_spread: float, log_bias: float) -> RoundOutcome:
        """The round of a player with that spread and mean of log roll-out."""
        player = Putting(log_spread, self.line_sd_rad, log_bias, holing=self.holing)
        return round_outcome(player, self.first_putts)


def payoffs(budget: ErrorBudget, factors: Mapping[str, float], course: Course) -> tuple[Payoff, ...]:
    """What scaling the SD of each named cause by its factor would bring.

    Raises SettingsError for a cause that was not measured apart, or a factor outside 0 to 2.
    """
    now = course.round(budget.log_spread, budget.log_bias)
    return tuple(_payoff(budget, cause, factor, "asked", course, now) for cause, factor in factors.items())


def usual_payoffs(budget: ErrorBudget, data: Terms, course: Course) -> tuple[Payoff, ...]:
    """For each measured cause in the player's hands: as steady as in its best third, and half its spread."""
    now = course.round(budget.log_spread, budget.log_bias)
    found = []
    for cause in budget.names:
        if cause == "green_and_judgement":
            continue
        spells = best_third(data, cause)
        if spells is not None:
            found.append(_payoff(budget, cause, spells.factor, "best third", course, now, spells))
        found.append(_payoff(budget, cause, 0.5, "half", course, now))
    return tuple(found)


def _payoff(
    budget: ErrorBudget, cause: str, factor: float, reason: Reason, course: Course, now: RoundOutcome,
    spells: Spells | None = None,
) -> Payoff:  # fmt: skip
    if cause not in budget.names:
        raise SettingsError(f"'{cause}' was not measured apart here; use one of {', '.join(budget.names)}.")
    if not 0.0 <= factor <= 2.0:
        raise SettingsError(f"{100.0 * factor:g} % of the present spread makes no sense; give 0 to 200 %.")
    then = spread_with(budget, cause, factor)
    return Payoff(
        cause=cause,
        factor=factor,
        reason=reason,
        spread_now=as_share(budget.log_spread, budget.log_bias),
        spread_then=as_share(then, budget.log_bias),
        round_now=now,
        round_then=course.round(then, budget.log_bias),
        spells=spells,
    )


def best_third(data: Terms, cause: str) -> Spells | None:
    """How steady ``cause`` was in the best third of spells of consecutive putts; None with under 30 putts.

    The best of several spells is steadier than the rest by luck alone. The variances of the spells are
    therefore taken as log-normal about their mean, with the spread that goes beyond luck by more than one
    standard error of luck; the lowest third of that distribution has a mean of 3·Φ(z − ω) of the whole.
    """
    from scipy.special import ndtr, ndtri

    values = data.values[:, data.names.index(cause)]
    left = values - data.design @ (np.linalg.pinv(data.design) @ values)
    size = min(SPELL_PUTTS, left.size // LEAST_SPELLS)
    if size < LEAST_SPELL_PUTTS or not np.isfinite(left).all():
        return None
    spells = left.size // size
    variances = left[: spells * size].reshape(spells, size).var(axis=1, ddof=1)
    if not (variances > 0.0).all():
        return None
    observed = float(np.log(variances).var(ddof=1))
    luck = _luck(size, spells)
    beyond = math.sqrt(max(observed - float(luck.mean()) - float(luck.std()), 0.0))
    share = 3.0 * float(ndtr(ndtri(1.0 / 3.0) - beyond))
    noise = float(data.noise[data.names.index(cause), data.names.index(cause)])
    whole = float(variances.mean())
    factor = math.sqrt(max(share * whole - noise, 0.0) / (whole - noise)) if whole > noise else 1.0
    return Spells(min(factor, 1.0), spells, size, float(np.mean(luck >= observed)))


@cache
def _luck(size: int, spells: int) -> FloatArray:
    """Variances of the log variances of so many spells of one SD, drawn many times."""
    rng = np.random.default_rng(SEED)
    return np.asarray(np.log(rng.chisquare(size - 1, (LUCK_DRAWS, spells))).var(axis=1, ddof=1))


def line_spread(score: Score, holing: Holing) -> float:
    """Spread of direction in radians: the player's own where the line was noted, else a published one."""
    return score.line.variable if score.line is not None else LINE_SD_RAD[holing]
