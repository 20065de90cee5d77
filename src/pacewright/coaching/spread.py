"""Two spreads compared once, at a number of putts fixed beforehand: limits and power.

For looks after every putt see `evidence`. Method page: docs/methods/progress.md.
"""

from __future__ import annotations

import math


def sd_ratio_limit(putts_before: int, putts_after: int, level: float = 0.95) -> float:
    """Ratio (larger over smaller) of two standard deviations that shows a change at ``level``, in one look.

    sqrt of the upper F quantile, two-sided; assumes a normal spread. Raises ValueError under two putts.
    """
    from scipy.special import fdtri

    upper = 1.0 - (1.0 - level) / 2.0
    before, after = _freedom(putts_before), _freedom(putts_after)
    return math.sqrt(max(float(fdtri(after, before, upper)), float(fdtri(before, after, upper))))


def smallest_detectable_change(typical_error: float) -> float:
    """1.96·√2·typical error (Weir, JSCR 19:231, 2005): the change between two single figures beyond luck.

    ``typical_error`` is the within-player standard deviation (Hopkins, Sports Med. 30:1, 2000); the
    result is in its unit.
    """
    return 1.96 * math.sqrt(2.0) * typical_error


def one_look_power(ratio: float, putts_before: int, putts_after: int, level: float = 0.95) -> float:
    """Chance that one F test of that ``level`` (two-sided) calls a true spread ``ratio`` under 1 smaller.

    The theoretical limit beside which the rule for repeated looks is reported.
    """
    from scipy.special import fdtr, fdtri

    before, after = _freedom(putts_before), _freedom(putts_after)
    limit = float(fdtri(after, before, (1.0 - level) / 2.0))
    return float(fdtr(after, before, limit / ratio**2))


def _freedom(putts: int) -> int:
    if putts < 2:
        raise ValueError("A spread needs at least two putts.")
    return putts - 1
