"""Observations against reference bands: tempo, acceleration at contact, lengths of back and through.

A band is judged on the mean over all putts, and where that says nothing, on each length asked. The player's
own baseline is the yardstick beside it. Method page: docs/methods/findings.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from pacewright.coaching.norms import Norm, norm
from pacewright.coaching.samples import (
    FEWEST,
    Mean,
    at_lengths_of,
    by_asked_length,
    confidence,
    mean_of,
    measured,
    needed_strength,
    strength,
    values,
)
from pacewright.coaching.words import at_lengths, figure, putts_counted
from pacewright.core.finding import Finding, Severity
from pacewright.core.recording import FloatArray
from pacewright.core.stroke import Stroke

Figures = tuple[FloatArray, FloatArray]


@dataclass(frozen=True, slots=True)
class Side:
    """What is said when the mean lies beyond this end of the band."""

    id: str
    statement: str
    cause: str
    advice: str


@dataclass(frozen=True, slots=True)
class BandRule:
    """A figure of a stroke and the band for it.

    ``needs`` are measures of the registry, ``figures`` makes values and noise (n,) of strokes that have
    them; ``says`` puts the mean into words, and ``short`` a single figure of those strokes.
    """

    norm_id: str
    needs: tuple[str, ...]
    figures: Callable[[Sequence[Stroke]], Figures]
    says: Callable[[Mean, Sequence[Stroke], Norm], str]
    short: Callable[[float, Sequence[Stroke]], str]
    low: Side
    high: Side


def band_observations(putts: Sequence[Stroke], baseline: Sequence[Stroke]) -> list[Finding]:
    """Every figure whose mean lies outside its band beyond chance and noise."""
    found = []
    for rule in RULES:
        able = measured(putts, *rule.needs)
        for side, sign in ((rule.low, -1.0), (rule.high, 1.0)):
            finding = _judged(rule, side, sign, able, measured(baseline, *rule.needs))
            if finding is not None:
                found.append(finding)
    return found


def _judged(
    rule: BandRule, side: Side, sign: float, putts: Sequence[Stroke], baseline: Sequence[Stroke]
) -> Finding | None:
    outside, strongest = _outside(rule, sign, putts)
    if not outside:
        return None
    strokes = [stroke for _, group in outside for stroke in group]
    lengths = [length for length, _ in outside if length is not None]
    mean = mean_of(*rule.figures(strokes))
    reference = norm(rule.norm_id)
    severity = _severity(mean, sign, reference)
    evidence = rule.says(mean, strokes, reference)
    yardstick, is_usual = _yardstick(rule, sign, strokes, putts, baseline)
    if is_usual and severity == "act":
        severity = "watch"
    return Finding(
        id=side.id,
        severity=severity,
        confidence=confidence(strongest, len(strokes)),
        statement=at_lengths(side.statement, lengths),
        evidence=" ".join(filter(None, (evidence, yardstick))),
        cause=side.cause,
        advice=side.advice,
        source=reference.source,
        stroke_indices=tuple(sorted(stroke.index for stroke in strokes)),
    )


def _outside(
    rule: BandRule, sign: float, putts: Sequence[Stroke]
) -> tuple[list[tuple[float | None, list[Stroke]]], float]:
    """All putts, or the lengths asked, whose mean lies beyond the limit, and the strongest evidence of it."""

    def beyond(group: Sequence[Stroke]) -> float:
        return _strength_beyond(rule, sign, mean_of(*rule.figures(group)))

    if len(putts) < FEWEST:
        return [], 0.0
    overall = beyond(putts)
    if overall >= needed_strength():
        return [(None, list(putts))], overall
    groups = by_asked_length(putts)
    if len(groups) < 2:
        return [], 0.0
    needed = needed_strength(len(groups))
    strengths = {length: beyond(group) for length, group in groups.items()}
    outside: list[tuple[float | None, list[Stroke]]] = [
        (length, group) for length, group in groups.items() if strengths[length] >= needed
    ]
    return outside, max(strengths.values())


def _strength_beyond(rule: BandRule, sign: float, mean: Mean) -> float:
    limit = norm(rule.norm_id).high if sign > 0 else norm(rule.norm_id).low
    return sign * mean.strength_above(limit)


def _severity(mean: Mean, sign: float, reference: Norm) -> Severity:
    act = reference.act_high if sign > 0 else reference.act_low
    if math.isnan(act):
        return "note"
    return "act" if sign * (mean.value - act) >= 0.0 else "watch"


def _yardstick(
    rule: BandRule,
    sign: float,
    strokes: Sequence[Stroke],
    putts: Sequence[Stroke],
    baseline: Sequence[Stroke],
) -> tuple[str, bool]:
    """How the strokes compare with the player's own, in words, and whether the player always putts so.

    The own strokes are the baseline at the same lengths, or else the player's other putts of this session.
    """
    own = at_lengths_of(baseline, strokes)
    mean = mean_of(*rule.figures(strokes))
    if len(own) >= FEWEST:
        usual = mean_of(*rule.figures(own))
        error = math.hypot(mean.sd, usual.sd)
        apart = strength(mean.value - usual.value, error, min(mean.freedom, usual.freedom))
        text = f"Own baseline: {rule.short(usual.value, own)}"
        if abs(apart) >= needed_strength(2):
            return f"{text}, so this is new.", False
        return f"{text}, no clear change.", _strength_beyond(rule, sign, usual) > 0.0
    judged = {id(stroke) for stroke in strokes}
    others = [stroke for stroke in putts if id(stroke) not in judged]
    if len(others) >= FEWEST:
        median = float(np.median(rule.figures(others)[0]))
        return f"Other putts: {rule.short(median, others)}.", False
    return "", False


def _direct(name: str) -> Callable[[Sequence[Stroke]], Figures]:
    return lambda strokes: values(strokes, name)


def _constants(strokes: Sequence[Stroke]) -> Figures:
    """Speed × downswing time / backswing length; an unsure scale cancels, the noise of the time stays."""
    speed, _ = values(strokes, "impact_speed_m_s")
    time, time_sd = values(strokes, "downswing_time_s")
    length, _ = values(strokes, "backswing_length_m")
    constant = speed * time / length
    return constant, constant * time_sd / time


def _says_ratio(mean: Mean, strokes: Sequence[Stroke], reference: Norm) -> str:
    return (
        f"Time ratio {figure(mean.value, 'number', mean.sd)} over {putts_counted(strokes)}; "
        f"the guide is {reference.low:g} to {reference.high:g}."
    )


def _says_time(mean: Mean, strokes: Sequence[Stroke], reference: Norm) -> str:
    return (
        f"Backswing time {figure(mean.value, 'time', mean.sd)} over {putts_counted(strokes)}; "
        f"the guide is {reference.low:.2f} to {reference.high:.2f} s."
    )


def _says_acceleration(mean: Mean, strokes: Sequence[Stroke], reference: Norm) -> str:
    in_10_ms = 1.0 / float(np.mean(values(strokes, "downswing_time_s")[0]))
    goes = "grows" if mean.value > 0 else "falls"
    change = figure(abs(mean.value) * in_10_ms, "percent", mean.sd * in_10_ms)
    return (
        f"Head speed {goes} by {change} in the last 10 ms before contact, over {putts_counted(strokes)}; "
        f"within {figure(reference.high * in_10_ms, 'percent')} it counts as steady."
    )


def _says_through(mean: Mean, strokes: Sequence[Stroke], reference: Norm) -> str:
    return (
        f"The follow-through is {figure(mean.value, 'number', mean.sd)} times as long as the backswing, over "
        f"{putts_counted(strokes)}; the guide is {reference.low:g} to {reference.high:g}."
    )


def _says_constant(mean: Mean, strokes: Sequence[Stroke], reference: Norm) -> str:
    return (
        f"The backswing is {_against_equal_markers(mean.value, mean.sd)} than equal markers ask for at this "
        f"speed, over {putts_counted(strokes)}; {_against_equal_markers(reference.high)} to "
        f"{_against_equal_markers(reference.low)} is usual."
    )


def _against_equal_markers(constant: float, sd: float = math.nan) -> str:
    """How much longer or shorter a backswing with that constant is than that of the textbook's."""
    percent = 100.0 * (norm("swing-constant").value / constant - 1.0)
    percent_sd = (100.0 + percent) * sd / constant
    return f"{figure(abs(percent), 'percent', percent_sd)} {'longer' if percent > 0 else 'shorter'}"


def _change_in_10_ms(index: float, strokes: Sequence[Stroke]) -> str:
    """The index as the change of speed in 10 ms, which people can picture."""
    change = index / float(np.mean(values(strokes, "downswing_time_s")[0]))
    return f"{figure(change, 'percent')} in 10 ms"


RULES = (
    BandRule(
        "backswing-time", ("backswing_time_s",), _direct("backswing_time_s"), _says_time,
        lambda value, _: figure(value, "time"),
        Side(
            "quick-backswing", "The backswing is quick.",
            "The way back is quicker than any usual beat.",
            "Putt to a beat and let the backswing fill it.",
        ),
        Side(
            "slow-backswing", "The backswing is slow.",
            "The way back is slower than any usual beat.",
            "Putt to a beat of 90 a minute and be at the back marker on the second beat; then try slower "
            "and faster.",
        ),
    ),
    BandRule(
        "time-ratio", ("time_ratio",), _direct("time_ratio"), _says_ratio,
        lambda value, _: figure(value, "number"),
        Side(
            "ratio-below-band", "The downswing is slow for the backswing.",
            "The way back is hurried, or the way down is held back.",
            "Give the backswing its whole beat; the ball comes half a beat later.",
        ),
        Side(
            "ratio-above-band", "The downswing is quick for the backswing.",
            "The way back takes most of the time, so the speed has to be made in a hurry.",
            "Turn round on the second beat; the ball comes half a beat later.",
        ),
    ),
    BandRule(
        "swing-constant", ("impact_speed_m_s", "downswing_time_s", "backswing_length_m"), _constants,
        _says_constant, lambda value, _: _against_equal_markers(value),
        Side(
            "long-backswing", "The backswing is long for the speed of these putts.",
            "The way back is longer than this speed needs.",
            "Shorten the way back to the back marker of the station.",
        ),
        Side(
            "short-backswing", "The backswing is short for the speed of these putts.",
            "Speed that the length does not give has to be made late in the downswing.",
            "Lengthen the way back to the back marker of the station.",
        ),
    ),
    BandRule(
        "acceleration-index", ("impact_acceleration_index", "downswing_time_s"),
        _direct("impact_acceleration_index"), _says_acceleration, _change_in_10_ms,
        Side(
            "braking-before-contact", "The head is slowing down before the ball.",
            "The speed is made early and then held back.",
            "Swing to equal markers, back and through, without checking the head.",
        ),
        Side(
            "speeding-up-at-contact", "The head is still speeding up at the ball.",
            "Much of the speed is made just before contact, where a small error of time costs most.",
            "Swing to equal markers: the head then passes the ball at a steady speed.",
        ),
    ),
    BandRule(
        "length-ratio", ("length_ratio",), _direct("length_ratio"), _says_through,
        lambda value, _: f"{figure(value, 'number')} times",
        Side(
            "short-through", "The follow-through is short for the backswing.",
            "The head is stopped after the ball.",
            "Let the head swing out towards the through marker.",
        ),
        Side(
            "long-through", "The follow-through is long for the backswing.",
            "The head is pushed on past the ball.",
            "Set the through marker as far ahead as the back marker is behind, and do not go beyond it.",
        ),
    ),
)  # fmt: skip
