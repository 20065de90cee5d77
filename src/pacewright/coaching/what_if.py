"""What mending a cause would bring: a new spread, and what that saves on the course.

Method page: docs/methods/error-budget.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.coaching.budget import ErrorBudget, as_share, spread_with
from pacewright.coaching.on_the_green import FIRST_PUTTS, Holing, Putting, RoundOutcome, round_outcome
from pacewright.coaching.terms import Terms
from pacewright.core.errors import SettingsError

FloatArray = NDArray[np.float64]

SPELL_PUTTS = 8
"""Putts in a spell; fewer where there would be less than six spells, but at least five."""
LEAST_SPELLS = 6
LEAST_SPELL_PUTTS = 5
LUCK_DRAWS = 2000
SEED = 8


@dataclass(frozen=True, slots=True)
class Spells:
    """How steady a cause was in the steadiest third of the session's spells.

    ``factor`` is its SD there over its SD in all, freed of measurement noise and of what choosing the
    best of several lucky spells does; 1 where luck alone explains the best spells. ``chance`` is how often
    luck alone makes the best third look this steady.
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
    reason: str
    spread_now: float
    spread_then: float
    round_now: RoundOutcome
    round_then: RoundOutcome
    spells: Spells | None = None


def payoff(
    budget: ErrorBudget,
    cause: str,
    factor: float,
    *,
    reason: str = "",
    line_sd_rad: float,
    holing: Holing = "amateur",
    first_putts: Sequence[tuple[float, float]] = FIRST_PUTTS,
    spells: Spells | None = None,
) -> Payoff:
    """What scaling the SD of one cause by ``factor`` would bring.

    Raises SettingsError for a cause that was not measured apart, or a factor below 0.
    """
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
        round_now=round_outcome(
            Putting(budget.log_spread, line_sd_rad, budget.log_bias, holing=holing), first_putts
        ),
        round_then=round_outcome(Putting(then, line_sd_rad, budget.log_bias, holing=holing), first_putts),
        spells=spells,
    )


def best_third(data: Terms, cause: str) -> Spells | None:
    """How steady ``cause`` was in the best third of spells of consecutive putts; None with under 30 putts.

    The best of several spells is steadier than the rest by luck alone; what luck does is simulated for one
    SD throughout, and only what goes beyond counts.
    """
    values = data.values[:, data.names.index(cause)]
    left = values - data.design @ (np.linalg.pinv(data.design) @ values)
    size = min(SPELL_PUTTS, left.size // LEAST_SPELLS)
    if size < LEAST_SPELL_PUTTS or not np.isfinite(left).all():
        return None
    spells = left.size // size
    squares = _spell_variances(left[None, : spells * size], size)
    observed = float(_best_part(squares)[0])
    rng = np.random.default_rng(SEED)
    luck = _best_part(rng.chisquare(size - 1, (LUCK_DRAWS, spells)) / (size - 1))
    noise = data.noise[data.names.index(cause), data.names.index(cause)]
    whole = float(squares.mean())
    signal = max(whole - noise, 0.0)
    beyond_luck = observed / float(luck.mean()) * whole - noise
    factor = math.sqrt(min(max(beyond_luck / signal, 0.0), 1.0)) if signal > 0.0 else 1.0
    return Spells(factor, spells, size, float(np.mean(luck <= observed)))


def _spell_variances(values: FloatArray, size: int) -> FloatArray:
    """Variances (m, spells) of consecutive runs of ``size``."""
    return np.asarray(values.reshape(values.shape[0], -1, size).var(axis=2, ddof=1))


def _best_part(variances: FloatArray) -> FloatArray:
    """Mean variance of the steadiest third over the mean of all, (m,)."""
    third = max(variances.shape[1] // 3, 1)
    best = np.sort(variances, axis=1)[:, :third].mean(axis=1)
    return np.asarray(best / variances.mean(axis=1))
