"""Error budget: why the distance varies, as shares of the variance of log roll-out.

Method page: docs/methods/error-budget.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.coaching.judgement import JudgementSplit, split_judgement
from pacewright.coaching.outcomes import sd_interval
from pacewright.coaching.share_fit import ShareFit, fit_shares
from pacewright.coaching.terms import CAUSES, QUANTITIES, Terms, terms
from pacewright.core.measure import Remark
from pacewright.core.outcome import Putt

FloatArray = NDArray[np.float64]

ENOUGH_HALF_WIDTH = 0.12
"""Enough putts: every share known to within 12 points either way, at 90 % (our choice)."""
USUAL_NEED = 60
"""Putts that usually do, where there are too few for an interval (docs/validation-budget.md)."""
MISHIT_SDS = 4.0
CLEAR_NOISE_SHARE = 0.5
"""Measurement noise above half of a term's noted variance is worth a word."""


@dataclass(frozen=True, slots=True)
class Share:
    """A share of the variance with its 90 % interval. Below 0: the cause makes up for others."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause of distance error.

    ``share`` is None where it was not measured apart: ``counted_in`` names the cause that holds it then.
    ``spread_share`` is what this cause alone scatters the ball by, as a share of the distance, free of
    measurement noise where that is known; ``spread_without`` what the spread would be without it.
    """

    name: str
    share: Share | None
    spread_share: float
    spread_without: float
    counted_in: str = ""


@dataclass(frozen=True, slots=True)
class ErrorBudget:
    """Why the distance varies.

    ``spread_share`` is the SD of roll-out over asked length with its 90 % interval, ``bias_share`` the mean
    of roll-out over asked, less 1. ``putts`` count in the budget, ``left_out`` lack a quantity, ``censored``
    were holed without a noted pace. ``enough`` says whether the shares are known well enough to act on,
    ``putts_needed`` how many putts in all would do. ``covariance`` (k, k) is that of the measured groups
    ``names``, in log roll-out, without measurement noise; ``log_spread`` and ``log_bias`` are the SD and mean
    of log roll-out over asked. All figures are nan and shares None with too few putts for any interval.
    """

    putts: int
    left_out: int
    censored: int
    spread_share: float
    spread_low: float
    spread_high: float
    bias_share: float
    causes: tuple[Cause, ...]
    enough: bool
    putts_needed: int
    names: tuple[str, ...]
    covariance: FloatArray
    judgement: JudgementSplit | None
    remarks: tuple[Remark, ...] = ()
    log_spread: float = math.nan
    log_bias: float = math.nan

    def cause(self, name: str) -> Cause:
        """The cause of that name."""
        return next(cause for cause in self.causes if cause.name == name)


def error_budget(putts: Sequence[Putt], *, green_spread: float | None = None) -> ErrorBudget:
    """The budget of some putts, in the order played; ``green_spread`` is that of the surface alone, if known.

    Where nothing of the stroke was measured, all of it counts as green and judgement, and is never enough.
    """
    data = terms(putts)
    fit = fit_shares(data)
    left_out = len(putts) - data.log_asked.size
    remarks = _remarks(data, left_out)
    if fit is None:
        return _too_few(data, left_out, remarks)
    widest = float(((fit.high - fit.low) / 2.0).max())
    is_split = len(data.names) > 1
    enough = is_split and widest <= ENOUGH_HALF_WIDTH
    count = data.log_asked.size
    low, high = sd_interval(math.sqrt(fit.variance), fit.freedom)
    return ErrorBudget(
        putts=count,
        left_out=left_out,
        censored=int(data.is_censored.sum()),
        spread_share=as_share(math.sqrt(fit.variance), fit.mean_error),
        spread_low=as_share(low, fit.mean_error),
        spread_high=as_share(high, fit.mean_error),
        bias_share=math.exp(fit.mean_error + fit.variance / 2.0) - 1.0,
        causes=_causes(data, fit),
        enough=enough,
        putts_needed=_putts_needed(count, widest) if is_split else max(USUAL_NEED, count),
        names=data.names,
        covariance=fit.covariance,
        judgement=split_judgement(fit.completed, data, green_spread),
        remarks=(*remarks, *_mishits(fit), *_noise(data, fit)),
        log_spread=math.sqrt(fit.variance),
        log_bias=fit.mean_error,
    )


def as_share(log_sd: float, log_mean: float = 0.0) -> float:
    """SD of a ratio whose logarithm is normal with that SD and mean."""
    return math.exp(log_mean + log_sd**2 / 2.0) * math.sqrt(math.expm1(log_sd**2))


def spread_with(budget: ErrorBudget, name: str, factor: float) -> float:
    """Spread of log roll-out if the cause varied by ``factor`` of what it does now, all else the same.

    The term's own variance and its covariance with the rest are scaled. nan where it was not measured.
    """
    if name not in budget.names:
        return math.nan
    k = budget.names.index(name)
    total = float(budget.covariance.sum())
    with_total = float(budget.covariance[k].sum())
    # Sampling can leave the noise-free variance below what its covariance with the total implies.
    own = max(float(budget.covariance[k, k]), with_total**2 / total)
    less = 1.0 - factor
    return math.sqrt(max(total - 2.0 * less * with_total + less**2 * own, 0.0))


def _causes(data: Terms, fit: ShareFit) -> tuple[Cause, ...]:
    total = float(fit.covariance.sum())
    found = []
    for name in CAUSES:
        if name in data.merged:
            found.append(Cause(name, None, math.nan, math.nan, data.merged[name]))
            continue
        k = data.names.index(name)
        own = max(float(fit.covariance[k, k]), 0.0)
        without = total - 2.0 * float(fit.covariance[k].sum()) + own
        share = Share(float(fit.value[k]), float(fit.low[k]), float(fit.high[k]))
        found.append(Cause(name, share, math.sqrt(own), math.sqrt(max(without, 0.0))))
    return tuple(found)


def _putts_needed(count: int, widest: float) -> int:
    """Putts in all for every interval to be narrow enough: widths fall with the root of the count."""
    needed = count * (widest / ENOUGH_HALF_WIDTH) ** 2
    return max(math.ceil(needed / 5.0) * 5, 10)


def _too_few(data: Terms, left_out: int, remarks: tuple[Remark, ...]) -> ErrorBudget:
    causes = tuple(Cause(name, None, math.nan, math.nan, data.merged.get(name, "")) for name in CAUSES)
    return ErrorBudget(
        putts=data.log_asked.size,
        left_out=left_out,
        censored=int(data.is_censored.sum()),
        spread_share=math.nan,
        spread_low=math.nan,
        spread_high=math.nan,
        bias_share=math.nan,
        causes=causes,
        enough=False,
        putts_needed=USUAL_NEED,
        names=data.names,
        covariance=np.full((len(data.names), len(data.names)), math.nan),
        judgement=None,
        remarks=(
            *remarks,
            Remark("too-few", "These putts are too few, or too much alike, to split their spread."),
        ),
    )


def _remarks(data: Terms, left_out: int) -> tuple[Remark, ...]:
    remarks = []
    if left_out:
        remarks.append(
            Remark("left-out", f"{left_out} putts lack a figure that the others have and were left out.")
        )
    censored = int(data.is_censored.sum())
    if censored:
        remarks.append(
            Remark(
                "holed",
                f"{censored} putts were holed and the pace they had left was not noted: counted as having "
                "reached the hole, not as perfect.",
            )
        )
    if len(data.names) == 1:
        text = (
            "Nothing of the stroke was measured, so the causes cannot be told apart; add at least one of "
            f"{', '.join(QUANTITIES)}."
        )
        remarks.append(Remark("stroke-not-measured", text))
    return tuple(remarks)


def _mishits(fit: ShareFit) -> list[Remark]:
    errors = fit.completed[0]
    spread = 1.4826 * float(np.median(np.abs(errors - np.median(errors))))
    far = np.abs(errors) > MISHIT_SDS * spread
    if not far.any() or spread <= 0.0:
        return []
    part = float(np.sum(errors[far] ** 2) / np.sum(errors**2))
    who = "One putt" if far.sum() == 1 else f"{int(far.sum())} putts"
    text = (
        f"{who} finished far out of the usual, {100.0 * part:.0f} % of the variance: see what happened there."
    )
    return [Remark("mishits", text)]


def _noise(data: Terms, fit: ShareFit) -> list[Remark]:
    if len(data.names) == 1:
        return []
    if not data.noise_known:
        missing = ", ".join(f"{name}_sd" for name in QUANTITIES)
        return [
            Remark(
                "noise-unknown",
                "The uncertainty of the measuring was not given. The shares hold without it, but what a "
                f"cause scatters by alone includes it; add columns such as {missing}.",
            )
        ]
    noise = np.diag(data.noise)[: len(data.names) - 1]
    own = np.maximum(np.diag(fit.covariance)[: len(data.names) - 1], 0.0)
    loud = [
        name for name, n, o in zip(data.names, noise, own, strict=False) if n > CLEAR_NOISE_SHARE * (n + o)
    ]
    if not loud:
        return []
    return [
        Remark(
            "noisy",
            f"In {' and '.join(loud)}, most of what was noted is the measuring, not the player; its share is "
            "free of that but less sure.",
        )
    ]
