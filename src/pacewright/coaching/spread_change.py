"""The change of spread between two sessions: ratio, interval, verdict, and what would settle it.

Two rules. ``every putt`` may be asked after every putt: each wrong verdict has a chance of 5 % at most over
all looks together. ``one look`` is the F test for a number of putts fixed beforehand, looked at once.
Method page: docs/methods/progress.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from pacewright.coaching.censored import MAD_TO_SD, clipped_variance
from pacewright.coaching.evidence import critical_variance_ratio, decreasing_root, log_evidence_smaller
from pacewright.coaching.session_fit import (
    CLIP_SDS,
    SessionFit,
    robust_scale,
)
from pacewright.coaching.spread import one_look_power, sd_ratio_limit

Verdict = Literal["better", "unclear", "worse"]
Rule = Literal["every putt", "one look"]

FALSE_ALARM = 0.05
"""Chance at most of ever saying `better` (and of ever saying `worse`) when nothing changed."""
ONE_LOOK_LEVEL = 0.95
WANTED_POWER = 0.8
WORTHWHILE_RATIO = 0.9
"""The number of putts to settle is not planned for a change smaller than this."""
MOST_PUTTS = 2000
"""Stands for "not in practice" where more putts would be needed."""
_WIDEST_LOG_RATIO = math.log(100.0)


@dataclass(frozen=True, slots=True)
class Span:
    """A figure with its interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class SpreadChange:
    """The change of spread, ``ratio`` being after over before.

    ``detectable_ratio`` (larger over smaller spread) shows a change at 95 % in one planned look;
    ``verdict_ratio`` is what the rule in force asks for. ``putts_to_settle`` is the number of putts in each
    session that gives four chances in five of a verdict if the change is as it looks now (0 when settled).
    ``chance_better`` and ``chance_worse`` bound the chance of such evidence without a change.
    """

    verdict: Verdict
    ratio: Span
    detectable_ratio: float
    verdict_ratio: float
    putts_to_settle: int
    chance_better: float
    chance_worse: float


def verdict_now(before: SessionFit, after: SessionFit) -> Verdict:
    """The verdict that may be asked for after every putt, without its interval."""
    goal = -math.log(FALSE_ALARM)
    if log_evidence(before, after) >= goal:
        return "better"
    return "worse" if log_evidence(after, before) >= goal else "unclear"


def spread_change(before: SessionFit, after: SessionFit, rule: Rule = "every putt") -> SpreadChange:
    """Verdict on the spread with its interval (each side errs at most 5 %) and what would settle it."""
    value = after.spread / before.spread
    if rule == "every putt":
        smaller, larger = log_evidence(before, after), log_evidence(after, before)
        low, high = spread_ratio_limits(before, after)
        verdict = verdict_now(before, after)
    else:
        smaller, larger = _one_look_evidence(before, after), _one_look_evidence(after, before)
        low, high = _one_look_limits(before, after)
        verdict = "better" if high < 1.0 else "worse" if low > 1.0 else "unclear"
    settle = 0
    if verdict == "unclear":
        folded = min(value, 1.0 / value, WORTHWHILE_RATIO)
        settle = putts_to_settle(folded, rule, more_than=min(before.putts, after.putts))
    return SpreadChange(
        verdict=verdict,
        ratio=Span(value, min(low, value), max(high, value)),
        detectable_ratio=sd_ratio_limit(before.putts, after.putts, ONE_LOOK_LEVEL),
        verdict_ratio=verdict_ratio(before.freedom, after.freedom, rule),
        putts_to_settle=settle,
        chance_better=math.exp(-max(smaller, 0.0)),
        chance_worse=math.exp(-max(larger, 0.0)),
    )


def spread_ratio_limits(before: SessionFit, after: SessionFit) -> tuple[float, float]:
    """Low and high end of the spread ratio (after over before) that hold at every look.

    All ratios against which the evidence has not reached 1/`FALSE_ALARM`; 0 or inf where the putts are
    too few to exclude any.
    """
    goal = -math.log(FALSE_ALARM)
    reach = _WIDEST_LOG_RATIO
    high = decreasing_root(lambda log: goal - log_evidence(before, after, math.exp(log)), -reach, reach)
    low = -decreasing_root(lambda log: goal - log_evidence(after, before, math.exp(log)), -reach, reach)
    return (
        0.0 if low <= -reach else math.exp(low),
        math.inf if high >= reach else math.exp(high),
    )


def log_evidence(before: SessionFit, after: SessionFit, ratio: float = 1.0) -> float:
    """Log evidence that the spread ratio (after over before) is under ``ratio``."""
    limit = CLIP_SDS * robust_scale([before.residual, after.residual / ratio])
    squares = after.sum_of_squares(limit * ratio) / ratio**2 / before.sum_of_squares(limit)
    return float(log_evidence_smaller(squares, before.freedom, after.freedom))


def _one_look_limits(before: SessionFit, after: SessionFit) -> tuple[float, float]:
    """95 % limits of the spread ratio for one look at a number of putts fixed beforehand (F)."""
    from scipy.special import fdtri

    tail = (1.0 - ONE_LOOK_LEVEL) / 2.0
    value = after.spread / before.spread
    return (
        value / math.sqrt(float(fdtri(after.freedom, before.freedom, 1.0 - tail))),
        value / math.sqrt(float(fdtri(after.freedom, before.freedom, tail))),
    )


def _one_look_evidence(before: SessionFit, after: SessionFit) -> float:
    from scipy.special import fdtr

    variance_ratio = (after.spread / before.spread) ** 2
    return -math.log(max(2.0 * float(fdtr(after.freedom, before.freedom, variance_ratio)), 1e-300))


def verdict_ratio(freedom_before: float, freedom_after: float, rule: Rule = "every putt") -> float:
    """Seen ratio (larger over smaller spread) from which the rule gives a verdict; inf when it never does."""
    from scipy.special import fdtri

    if rule == "one look":
        return 1.0 / math.sqrt(float(fdtri(freedom_after, freedom_before, (1.0 - ONE_LOOK_LEVEL) / 2.0)))
    squares = critical_variance_ratio(freedom_before, freedom_after, FALSE_ALARM)
    goal = squares * freedom_before / freedom_after
    share = freedom_after / (freedom_before + freedom_after)
    if goal <= drawn_in_ratio(0.01, share) ** 2:
        return math.inf
    log = decreasing_root(lambda x: goal - drawn_in_ratio(math.exp(x), share) ** 2, math.log(0.01), 0.0)
    return math.exp(-log)


def rule_power(ratio: float, putts_before: int, putts_after: int, rule: Rule = "every putt") -> float:
    """Chance that the rule says `better` at that number of putts when the true ratio is ``ratio``.

    For normal errors. It counts the verdict in force at that putt, not one that came and went before.
    """
    from scipy.special import fdtr

    before, after = putts_before - 1.0, putts_after - 1.0
    if rule == "one look":
        return one_look_power(ratio, putts_before, putts_after, ONE_LOOK_LEVEL)
    limit = critical_variance_ratio(before, after, FALSE_ALARM) * before / after
    left = drawn_in_ratio(ratio, after / (before + after))
    return float(fdtr(after, before, limit / left**2))


def putts_to_settle(ratio: float, rule: Rule = "every putt", more_than: int = 0) -> int:
    """Putts in each session for four chances in five of a verdict when the true ratio is ``ratio`` (< 1).

    Always more than ``more_than``; at most `MOST_PUTTS`, which stands for "not in practice".
    """
    low, high = 4, MOST_PUTTS
    if rule_power(ratio, high, high, rule) < WANTED_POWER:
        return high
    while high - low > 1:
        middle = (low + high) // 2
        if rule_power(ratio, middle, middle, rule) >= WANTED_POWER:
            high = middle
        else:
            low = middle
    return max(high, more_than + 1)


def drawn_in_ratio(ratio: float, share_after: float) -> float:
    """Ratio of spreads left after mishits are drawn in at the pooled scale, for a true ``ratio``, normal.

    ``share_after`` is the share of the putts that belong to the later session.
    """

    def inside(log_scale: float) -> float:
        scale = math.exp(log_scale) / math.sqrt(2.0)
        both = (1.0 - share_after) * math.erf(scale) + share_after * math.erf(scale / ratio)
        return 0.5 - both

    scale = math.exp(decreasing_root(inside, -10.0, 5.0))
    limit = CLIP_SDS * MAD_TO_SD * scale
    return ratio * math.sqrt(clipped_variance(limit / ratio) / clipped_variance(limit))
