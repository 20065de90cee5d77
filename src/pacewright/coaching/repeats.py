"""Observations on repeats of one length of putt: how even they are, and whether length and time cancel.

Spreads are relative, within lengths asked, with the noise of measuring taken out.
Method page: docs/methods/findings.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pacewright.coaching.norms import norm
from pacewright.coaching.samples import (
    by_asked_length,
    confidence,
    measured,
    needed_strength,
    spread_strength,
    strength,
    values,
    within_groups,
)
from pacewright.coaching.words import counted, figure, putts_counted
from pacewright.core.finding import Finding
from pacewright.core.recording import FloatArray
from pacewright.core.registry import MEASURES
from pacewright.core.stroke import Stroke

FEWEST_SPARE = 4
"""Fewest degrees of freedom for a spread: five putts of one length, or three each of two."""
ONE_LENGTH_SPREAD = 0.15
"""Backswings that differ by more than this belong to putts of different lengths (our choice)."""

Groups = list[list[Stroke]]


@dataclass(frozen=True, slots=True)
class _Kind:
    id: str
    measure: str
    statement: str
    cause: str
    advice: str


_KINDS = (
    _Kind(
        "uneven-length", "backswing_length_m", "The backswing is not the same length from putt to putt.",
        "Head speed goes with the length of the backswing, and distance with its square.",
        "Putt to the back marker: first without a ball, then with one.",
    ),
    _Kind(
        "uneven-timing", "downswing_time_s", "The downswing does not take the same time from putt to putt.",
        "Head speed goes with one over the time of the downswing, and distance with its square.",
        "Putt to the beat and listen for the ball half a beat after the back marker.",
    ),
    _Kind(
        "uneven-speed", "impact_speed_m_s", "Head speed at the ball differs from putt to putt.",
        "Distance goes with the square of head speed: it differs about twice as much.",
        "Stay at one length until the speeds come together, then mix lengths.",
    ),
)  # fmt: skip


def repeat_observations(putts: Sequence[Stroke]) -> list[Finding]:
    """Uneven lengths, times and speeds, and lengths and times that go together."""
    groups = repeated(putts)
    found = [_uneven(kind, groups) for kind in _KINDS]
    found.append(_together(groups))
    return [finding for finding in found if finding is not None]


def repeated(putts: Sequence[Stroke]) -> Groups:
    """Groups of putts of one length: those asked; or all, when none was asked and backswings are alike."""
    if any(stroke.asked_length_m is not None for stroke in putts):
        return list(by_asked_length(putts).values())
    able = measured(putts, "backswing_length_m")
    if len(able) < len(putts) or len(able) < 2:
        return []
    logs = np.log(values(able, "backswing_length_m")[0])
    return [able] if float(np.std(logs, ddof=1)) <= ONE_LENGTH_SPREAD else []


def _uneven(kind: _Kind, groups: Groups) -> Finding | None:
    able = _able(groups, kind.measure)
    strokes = [stroke for group in able for stroke in group]
    spare = len(strokes) - len(able)
    if spare < FEWEST_SPARE:
        return None
    reference = norm("contact-speed-spread")
    spread, noise = _log_spread(able, kind.measure, spare)
    evidence = spread_strength(spread**2 / (reference.value**2 + noise**2), spare)
    if evidence < needed_strength():
        return None
    own = math.sqrt(max(spread**2 - noise**2, 0.0))
    return Finding(
        kind.id, "act" if own >= 2.0 * reference.value else "watch", confidence(evidence, len(strokes)),
        kind.statement, _spread_in_words(kind.measure, own, spare, strokes, len(able)), kind.cause,
        kind.advice, reference.source, tuple(sorted(s.index for s in strokes)),
    )  # fmt: skip


def _able(groups: Groups, *names: str) -> Groups:
    able = [measured(group, *names) for group in groups]
    return [group for group in able if len(group) >= 2]


def _log_spread(groups: Groups, measure: str, spare: int) -> tuple[float, float]:
    """Relative spread within groups, and the relative noise of measuring in it."""
    rest = within_groups(groups, lambda stroke: math.log(stroke.value(measure)))
    numbers, sds = values([stroke for group in groups for stroke in group], measure)
    return math.sqrt(float(rest @ rest) / spare), math.sqrt(float(np.mean((sds / numbers) ** 2)))


def _spread_in_words(measure: str, own: float, spare: int, strokes: Sequence[Stroke], lengths: int) -> str:
    yardstick = figure(100.0 * norm("contact-speed-spread").value, "percent")
    where = "at one length" if lengths == 1 else f"within each of {counted(lengths, 'length')}"
    text = (
        f"{MEASURES[measure].label} differs by {_spread(own, spare)} {where} (noise of measuring taken out, "
        f"{putts_counted(strokes)}; yardstick {yardstick})."
    )
    if measure == "downswing_time_s":
        text += f" {ten_milliseconds(float(np.mean(values(strokes, measure)[0])))}"
    if measure == "impact_speed_m_s":
        text += f" By itself that spreads distance by {_spread(2.0 * own, spare)}."
    return text


def _spread(share: float, spare: int) -> str:
    """A relative spread as percent, with the uncertainty of a spread: over √(2·degrees of freedom)."""
    return figure(100.0 * share, "percent", 100.0 * share / math.sqrt(2.0 * spare))


def ten_milliseconds(downswing_time_s: float) -> str:
    """What 10 ms mean in a downswing of that time: the derivative of 1/T for speed, of 1/T² for distance."""
    percent = 1.0 / downswing_time_s
    speed, distance = figure(percent, "percent"), figure(2.0 * percent, "percent")
    time = figure(downswing_time_s, "time")
    return f"10 ms in a downswing of {time} are {speed} of speed and {distance} of distance."


def _together(groups: Groups) -> Finding | None:
    """Whether long backswings come with long downswing times, and cancel, or with short ones, and add up."""
    able = _able(groups, "backswing_length_m", "downswing_time_s")
    strokes = [stroke for group in able for stroke in group]
    spare = len(strokes) - len(able) - 1
    if spare < FEWEST_SPARE:
        return None
    length = within_groups(able, lambda stroke: math.log(stroke.value("backswing_length_m")))
    time = within_groups(able, lambda stroke: math.log(stroke.value("downswing_time_s")))
    correlation = _correlation(length, time)
    evidence = strength(correlation, math.sqrt((1.0 - correlation**2) / spare), spare)
    if abs(evidence) < needed_strength(2):
        return None
    indices = tuple(sorted(s.index for s in strokes))
    sd = (1.0 - correlation**2) / math.sqrt(spare)
    shown = (
        f"Their correlation is {figure(correlation, 'number', sd)} over {putts_counted(strokes)}, within "
        "lengths of putt."
    )
    sure = confidence(abs(evidence), len(strokes))
    if correlation > 0:
        return Finding(
            "lengths-and-times-cancel", "note", sure,
            "Longer backswings come with longer downswing times, and the two cancel in part.", shown,
            "Length adds speed and time takes it away.",
            "Do not correct one of the two alone; look at head speed.", _LAW, indices,
        )  # fmt: skip
    return Finding(
        "lengths-and-times-add-up", "watch", sure,
        "Longer backswings come with shorter downswing times, and the two add up.", shown,
        "Length adds speed, and the shorter time adds more.",
        "Keep the beat: the time of the downswing is the same for a long and a short backswing.",
        _LAW, indices,
    )  # fmt: skip


_LAW = "Derived: head speed goes with backswing length over downswing time."


def _correlation(x: FloatArray, y: FloatArray) -> float:
    scale = math.sqrt(float(x @ x) * float(y @ y))
    return float(x @ y) / scale if scale > 0.0 else 0.0
