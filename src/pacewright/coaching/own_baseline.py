"""Observation against the player's own baseline: what is no longer as it was.

Method page: docs/methods/findings.md.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from pacewright.coaching.samples import (
    FEWEST,
    at_lengths_of,
    confidence,
    mean_of,
    measured,
    needed_strength,
    strength,
    values,
)
from pacewright.coaching.words import Kind, figure, listed, putts_counted
from pacewright.core.finding import Finding
from pacewright.core.stroke import Stroke


@dataclass(frozen=True, slots=True)
class _Figure:
    """A measure, how it is named, the least change that matters (our choice: 5 % of a time) and words for it.

    ``told_by`` are observations that tell of its change already.
    """

    measure: str
    label: str
    kind: Kind
    matters: float
    less: str
    more: str
    told_by: frozenset[str] = frozenset()


_FIGURES = (
    _Figure("backswing_time_s", "backswing time", "time", 0.03,
            "the backswing is quicker", "the backswing is slower",
            frozenset({"quick-backswing", "slow-backswing"})),
    _Figure("downswing_time_s", "downswing time", "time", 0.015,
            "the downswing is quicker", "the downswing is slower"),
    _Figure("time_ratio", "time ratio", "number", 0.15, "the time ratio is lower", "the time ratio is higher",
            frozenset({"ratio-below-band", "ratio-above-band"})),
    _Figure("impact_acceleration_index", "acceleration index", "number", 0.15,
            "the head speeds up less at the ball", "the head speeds up more at the ball",
            frozenset({"braking-before-contact", "speeding-up-at-contact"})),
)  # fmt: skip


def baseline_observations(
    putts: Sequence[Stroke], baseline: Sequence[Stroke], observed: Collection[str] = ()
) -> list[Finding]:
    """One observation of all that changed from the baseline at the same lengths; nothing without one.

    ``observed`` are the ids of observations that tell of a change already.
    """
    changes = [
        change for one in _FIGURES if not one.told_by & set(observed)
        if (change := _change(one, putts, baseline)) is not None
    ]  # fmt: skip
    if not changes:
        return []
    told = "; ".join(change.told for change in changes)
    strokes = max((change.strokes for change in changes), key=len)
    return [
        Finding(
            "differs-from-baseline", "watch",
            confidence(max(change.strength for change in changes), len(strokes)),
            f"The stroke is not this player's usual one: {listed([change.words for change in changes])}.",
            f"{told[0].upper()}{told[1:]}, over {putts_counted(strokes)}.",
            "Something changed since the baseline: the task, the putter, the practice or the day.",
            "Ask what changed before correcting anything.",
            "The player's own baseline.", tuple(stroke.index for stroke in strokes),
        )
    ]  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Change:
    words: str
    told: str
    strength: float
    strokes: list[Stroke]


def _change(one: _Figure, putts: Sequence[Stroke], baseline: Sequence[Stroke]) -> _Change | None:
    own = at_lengths_of(measured(baseline, one.measure), measured(putts, one.measure))
    now = at_lengths_of(measured(putts, one.measure), own)
    if min(len(own), len(now)) < FEWEST:
        return None
    before, after = mean_of(*values(own, one.measure)), mean_of(*values(now, one.measure))
    change, error = after.value - before.value, math.hypot(before.sd, after.sd)
    # The smaller freedom of the two never overstates the evidence.
    evidence = strength(change, error, min(before.freedom, after.freedom))
    if abs(evidence) < needed_strength(2 * len(_FIGURES)) or abs(change) < one.matters:
        return None
    told = (
        f"{one.label} {figure(before.value, one.kind, before.sd)} before, "
        f"{figure(after.value, one.kind, after.sd)} now"
    )
    return _Change(one.more if change > 0 else one.less, told, abs(evidence), now)
