"""Scoring a drill from its putts and their timing, a player's history of it, and norms beside it.

Numbers in, decisions out. Method page: docs/methods/drills.md.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pacewright.coaching.outcomes import ErrorScore, arrays, measure_arrays, score
from pacewright.coaching.spread import smallest_detectable_change
from pacewright.coaching.spread_change import Span
from pacewright.core.errors import QualityError
from pacewright.core.outcome import Putt

BAND_SHARE = 0.10
"""A putt is inside when it finishes within a tenth of the distance asked (our choice: about one standard
deviation of skilled amateurs, Karlsen and Nilsson 2008)."""
ON_BEAT_SHARE = 0.10
"""A stroke keeps the beat when its backswing takes one beat within a tenth (our choice)."""
LEAST_SESSIONS_FOR_TREND = 4


@dataclass(frozen=True, slots=True)
class TimingScore:
    """Timing of the strokes that have it: ``strokes``, mean time ratio and the spread of ratio and of
    downswing time as shares; ``on_beat`` is None where no beat was noted."""

    strokes: int
    time_ratio: float
    time_ratio_spread: float
    downswing_spread: float
    on_beat: Span | None


@dataclass(frozen=True, slots=True)
class DrillScore:
    """One go at a drill; ``date`` is None where the day was not told.

    ``inside`` is the share of putts that finished within ``BAND_SHARE`` of the distance asked (a holed putt
    counts), with its 90 % interval; ``length`` are constant, variable and absolute error.
    """

    name: str
    date: datetime.date | None
    putts: int
    holed: int
    lengths_m: tuple[float, ...]
    inside: Span
    length: ErrorScore
    timing: TimingScore | None


@dataclass(frozen=True, slots=True)
class DrillHistory:
    """A player's goes at one drill, oldest first, judged by the spread of distance.

    ``typical_error`` is how far the log spread of a go strays by itself: the SD of the changes over √2
    (Hopkins 2000), and no less than the luck of so many putts. ``detectable`` is the change between two goes,
    as a share, that is more than that (Weir 2005).
    ``trend`` is the change of the spread a go, as a share, with its 90 % interval; None under four goes.
    """

    scores: tuple[DrillScore, ...]
    typical_error: float
    detectable: float
    trend: Span | None


def score_drill(putts: Sequence[Putt], name: str, date: datetime.date | None = None) -> DrillScore:
    """Score one go at a drill. Raises QualityError with fewer than two putts or no finish at all."""
    scored = score(putts)
    data = arrays(putts)
    near = data.holed | (np.abs(data.length_error) <= BAND_SHARE)
    return DrillScore(
        name=name,
        date=date,
        putts=scored.putts,
        holed=scored.holed,
        lengths_m=tuple(sorted({putt.asked_m for putt in putts})),
        inside=proportion(int(near.sum()), scored.putts),
        length=scored.length,
        timing=_timing(putts),
    )


def proportion(hits: int, tries: int) -> Span:
    """A share with its 90 % interval (Wilson, J. Am. Stat. Assoc. 22:209, 1927)."""
    z = 1.645
    middle = (hits + z**2 / 2.0) / (tries + z**2)
    reach = z / (tries + z**2) * math.sqrt(hits * (tries - hits) / tries + z**2 / 4.0)
    return Span(hits / tries, max(middle - reach, 0.0), min(middle + reach, 1.0))


def _timing(putts: Sequence[Putt]) -> TimingScore | None:
    back, _ = measure_arrays(putts, "backswing_time_s")
    down, _ = measure_arrays(putts, "downswing_time_s")
    timed = np.isfinite(back) & np.isfinite(down)
    if int(timed.sum()) < 2:
        return None
    ratio = back[timed] / down[timed]
    beats = np.array([math.nan if p.beats_per_minute is None else 60.0 / p.beats_per_minute for p in putts])
    beaten = timed & np.isfinite(beats)
    kept = np.abs(back[beaten] / beats[beaten] - 1.0) <= ON_BEAT_SHARE
    return TimingScore(
        strokes=int(timed.sum()),
        time_ratio=float(ratio.mean()),
        time_ratio_spread=float(np.std(np.log(ratio), ddof=1)),
        downswing_spread=float(np.std(np.log(down[timed]), ddof=1)),
        on_beat=proportion(int(kept.sum()), int(kept.size)) if kept.size else None,
    )


def drill_history(scores: Sequence[DrillScore]) -> DrillHistory:
    """A player's goes at one drill, by date where each has one, else as given, oldest first.

    Raises QualityError under two goes, or for a go in which every putt finished alike.
    """
    dates = [one.date for one in scores]
    ordered = tuple(scores)
    if None not in dates:
        ordered = tuple(sorted(scores, key=lambda one: one.date or datetime.date.min))
    if len(ordered) < 2:
        raise QualityError("A history needs two goes at the drill or more.")
    if not all(one.length.variable > 0.0 for one in ordered):
        raise QualityError("In one of these goes every putt finished alike: there is no spread to follow.")
    logs = np.log([one.length.variable for one in ordered])
    luck = math.sqrt(float(np.mean([0.5 / max(one.putts - 1, 1) for one in ordered])))
    typical = luck
    if len(ordered) >= LEAST_SESSIONS_FOR_TREND:
        typical = max(luck, float(np.sqrt(np.mean(np.diff(logs) ** 2) / 2.0)))
    return DrillHistory(
        scores=ordered,
        typical_error=typical,
        detectable=math.expm1(smallest_detectable_change(typical)),
        trend=_trend(logs),
    )


def _trend(logs: np.ndarray[tuple[int], np.dtype[np.float64]]) -> Span | None:
    """Slope of log values over their order, as a share, with its 90 % interval (t)."""
    from scipy.special import stdtrit

    if logs.size < LEAST_SESSIONS_FOR_TREND:
        return None
    x = np.arange(logs.size) - (logs.size - 1) / 2.0
    slope = float(x @ logs / (x @ x))
    residual = logs - logs.mean() - slope * x
    sd = math.sqrt(float(residual @ residual) / (logs.size - 2) / float(x @ x))
    reach = float(stdtrit(logs.size - 2, 0.95)) * sd
    return Span(math.expm1(slope), math.expm1(slope - reach), math.expm1(slope + reach))
