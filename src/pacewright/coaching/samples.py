"""Strokes as samples: which can be judged, and what their figures say beyond chance and noise.

Every decision is put on one scale: the **strength** of a departure, the z of a normal distribution that
is as unlikely. Method page: docs/methods/findings.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from pacewright.core.finding import Confidence
from pacewright.core.recording import FloatArray
from pacewright.core.stroke import Stroke

POOR_QUALITY = frozenset({"too-few-samples", "gap", "contact-not-clear"})
"""Remarks that keep a stroke out of findings and of a player's own constant."""

_MAY_BE_NEGATIVE = frozenset({"impact_acceleration_m_s2", "impact_acceleration_index"})

CHANCE = 0.01
"""Chance of one observation about a player who gives no cause for it (one side)."""
FEWEST = 3
"""No departure is told from fewer strokes."""


def usable(strokes: Sequence[Stroke]) -> tuple[list[Stroke], list[Stroke]]:
    """Putts that can be judged, and putts left out for their quality. Rehearsal strokes are in neither."""
    putts = [stroke for stroke in strokes if stroke.kind == "putt"]
    good = [s for s in putts if not _is_poor(s)]
    return good, [s for s in putts if _is_poor(s)]


def _is_poor(stroke: Stroke) -> bool:
    return any(remark.code in POOR_QUALITY for remark in stroke.quality)


def measured(strokes: Sequence[Stroke], *names: str) -> list[Stroke]:
    """The strokes that have every one of these measures, above zero where less would make no sense."""
    return [s for s in strokes if all(_makes_sense(s.value(name), name) for name in names)]


def _makes_sense(value: float, name: str) -> bool:
    return math.isfinite(value) and (value > 0.0 or name in _MAY_BE_NEGATIVE)


def values(strokes: Sequence[Stroke], name: str) -> tuple[FloatArray, FloatArray]:
    """Values and standard uncertainties of a measure, both (n,); an unknown uncertainty counts as zero."""
    sds = np.array([s.sd(name) for s in strokes], dtype=float)
    return np.array([s.value(name) for s in strokes], dtype=float), np.where(np.isfinite(sds), sds, 0.0)


def by_asked_length(strokes: Sequence[Stroke], fewest: int = FEWEST) -> dict[float, list[Stroke]]:
    """Strokes by the length asked (to 1 cm), shortest first; lengths with fewer strokes are left out."""
    groups: dict[float, list[Stroke]] = {}
    for stroke in strokes:
        if stroke.asked_length_m is not None:
            groups.setdefault(round(stroke.asked_length_m, 2), []).append(stroke)
    return {length: groups[length] for length in sorted(groups) if len(groups[length]) >= fewest}


def at_lengths_of(strokes: Sequence[Stroke], like: Sequence[Stroke]) -> list[Stroke]:
    """The strokes at the lengths asked of ``like``; all of them where one side does not know its lengths."""
    wanted = {round(s.asked_length_m, 2) for s in like if s.asked_length_m is not None}
    known = {round(s.asked_length_m, 2) for s in strokes if s.asked_length_m is not None}
    if not wanted or not known:
        return list(strokes)
    return [s for s in strokes if s.asked_length_m is not None and round(s.asked_length_m, 2) in wanted]


@dataclass(frozen=True, slots=True)
class Mean:
    """A mean over ``count`` strokes: its standard error ``sd`` and the freedom of that error."""

    value: float
    sd: float
    freedom: float
    count: int

    def strength_above(self, limit: float) -> float:
        """Strength of the evidence that the true mean lies above ``limit``; negative when it lies below."""
        return strength(self.value - limit, self.sd, self.freedom)


def mean_of(numbers: FloatArray, sds: FloatArray) -> Mean:
    """Mean of two or more values (n,) with their measurement noise ``sds`` (n,).

    The spread between strokes holds the noise that differs from stroke to stroke. Noise beyond what that
    spread can hold (its variance and twice the standard error of it) is taken as common to all strokes, which
    no number of strokes averages out.
    """
    freedom = numbers.size - 1
    variance = float(np.var(numbers, ddof=1))
    common = max(float(np.mean(sds**2)) - variance * (1.0 + 2.0 * math.sqrt(2.0 / freedom)), 0.0)
    error = math.sqrt(variance / numbers.size + common)
    return Mean(float(np.mean(numbers)), error, freedom, numbers.size)


def strength(difference: float, error: float, freedom: float) -> float:
    """Student's t as the z of a normal distribution that is as unlikely.

    z = (8f+1)/(8f+3)·√(f·ln(1+t²/f)) with the sign of t: D. L. Wallace, Ann. Math. Stat. 30:1121 (1959),
    from memory; a test holds it against the exact tail.
    """
    if error <= 0.0:
        return math.copysign(math.inf, difference) if difference else 0.0
    t = difference / error
    size = math.sqrt(freedom * math.log1p(t * t / freedom)) * (8.0 * freedom + 1.0) / (8.0 * freedom + 3.0)
    return math.copysign(size, t)


def spread_strength(ratio: float, freedom: float) -> float:
    """Strength of the evidence that a variance exceeds its expected value, ``ratio`` times over.

    Wilson and Hilferty, PNAS 17:684 (1931), from memory: the cube root of χ²/f is nearly normal.
    """
    variance = 2.0 / (9.0 * freedom)
    return float((ratio ** (1.0 / 3.0) - (1.0 - variance)) / math.sqrt(variance))


def needed_strength(tests: int = 1) -> float:
    """Strength at which one of that many tests speaks by chance once in a hundred (Bonferroni)."""
    from statistics import NormalDist

    return NormalDist().inv_cdf(1.0 - CHANCE / tests)


def confidence(how_strong: float, count: int) -> Confidence:
    """How sure an observation is: from its strength beyond what it needed, and from the number of strokes."""
    if how_strong >= 3.5 and count >= 10:
        return "high"
    if how_strong >= 2.8 and count >= 5:
        return "fair"
    return "low"


@dataclass(frozen=True, slots=True)
class Line:
    """A line fitted by least squares: its slope, the slope's standard error and the freedom of that error."""

    slope: float
    slope_sd: float
    freedom: float


def line_of(x: FloatArray, y: FloatArray) -> Line:
    """Least squares of y on x, both (n,), n ≥ 3 and x not all equal."""
    centred = x - x.mean()
    square = float(centred @ centred)
    slope = float(centred @ y) / square
    rest = y - y.mean() - slope * centred
    freedom = x.size - 2
    return Line(slope, math.sqrt(float(rest @ rest) / freedom / square), freedom)


def within_groups(groups: Sequence[Sequence[Stroke]], figure: Callable[[Stroke], float]) -> FloatArray:
    """Departures of a figure from the mean of its own group, (n,) over all groups in order."""
    parts = [np.array([figure(s) for s in group], dtype=float) for group in groups]
    return np.concatenate([part - part.mean() for part in parts])
