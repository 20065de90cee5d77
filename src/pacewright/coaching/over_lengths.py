"""Observations over lengths of putt: whether time changes with length, and whether the backswing follows it.

The literature is split on the first, so each player is asked and the answer is said either way.
Method page: docs/methods/findings.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pacewright.coaching.samples import Line, confidence, line_of, measured, needed_strength, strength, values
from pacewright.coaching.words import figure, listed, putt_lengths, putts_counted
from pacewright.core.finding import Finding
from pacewright.core.recording import FloatArray
from pacewright.core.stroke import Stroke

FEWEST_FOR_A_LINE = 5
LENGTHS_DIFFER = 1.5
"""The longest over the shortest putt (or backswing), at least, for lengths to differ (our choice)."""
CHANGE_THAT_MATTERS = 0.05
"""A change of time over the lengths that were putted is told from 5 % on (our choice): 10 % of distance."""
CHANGE_RULED_OUT = 0.10
"""Time holds when the 95 % interval of its change lies within 10 % either way (our choice)."""
FOLLOWS = 0.25
"""At one time, head speed and so backswing length grow with the square root of the putt's length: exponent
0.5 (derived, a level green). Under half of that the backswing does not follow the putt (our choice)."""

_TIMES = (("backswing_time_s", "backswing"), ("downswing_time_s", "downswing"))
_SPLIT = (
    "The literature is split. Constant: Traithong 2007. Changing, differently for each golfer: Mathers and "
    "Grealy 2014, Dias et al. 2021."
)
_SQUARE_ROOT = (
    "Derived: roll-out goes with the square of head speed, and head speed with backswing length over time."
)


@dataclass(frozen=True, slots=True)
class _Change:
    """A time's relative change from the shortest to the longest, with standard error and freedom."""

    name: str
    share: float
    sd: float
    line: Line
    span: float

    @property
    def strength(self) -> float:
        return abs(strength(self.line.slope, self.line.slope_sd, self.line.freedom))

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval; Student's t by its first two terms beyond the normal."""
        f = self.line.freedom
        t = 1.96 + 2.372 / f + 2.83 / f**2 + 2.6 / f**3
        slope, half = self.line.slope, t * self.line.slope_sd
        return math.expm1((slope - half) * self.span), math.expm1((slope + half) * self.span)


def length_observations(putts: Sequence[Stroke]) -> list[Finding]:
    """What putts of different lengths show; nothing when the lengths do not differ."""
    return [f for f in (_time_over_length(putts), _backswing_over_length(putts)) if f is not None]


def log_lengths(putts: Sequence[Stroke]) -> tuple[list[Stroke], FloatArray, bool]:
    """Putts with a length, its logarithm (n,), and whether the lengths are those asked.

    Where no length was asked, backswing length stands for it, if it differs enough to do so.
    """
    asked = [s for s in putts if s.asked_length_m is not None]
    is_asked = len(asked) >= FEWEST_FOR_A_LINE
    able = asked if is_asked else measured(putts, "backswing_length_m")
    lengths = (
        [s.asked_length_m or math.nan for s in able] if is_asked else values(able, "backswing_length_m")[0]
    )
    return able, np.log(np.asarray(lengths, dtype=float)), is_asked


def lengths_differ(logs: FloatArray) -> bool:
    """Whether there are enough putts, and their lengths lie far enough apart, to fit a line."""
    return logs.size >= FEWEST_FOR_A_LINE and float(np.ptp(logs)) >= math.log(LENGTHS_DIFFER) - 1e-9


def _time_over_length(putts: Sequence[Stroke]) -> Finding | None:
    able, logs, is_asked = log_lengths(measured(putts, *(name for name, _ in _TIMES)))
    if not lengths_differ(logs):
        return None
    span = float(np.ptp(logs))
    changes = [_change(able, logs, span, measure, name) for measure, name in _TIMES]
    needed = needed_strength(2 * len(changes))
    found = [c for c in changes if c.strength >= needed and abs(c.share) >= CHANGE_THAT_MATTERS]
    told = "; ".join(f"{c.name} time {_signed(c.share, c.sd)}" for c in changes)
    over = _range_in_words(able, is_asked)
    evidence = f"{told[0].upper()}{told[1:]}, {over}, over {putts_counted(able)}."
    indices = tuple(s.index for s in able)
    if found:
        how = listed([f"the {c.name} gets {'slower' if c.share > 0 else 'quicker'}" for c in found])
        return Finding(
            "time-changes-with-length", "watch", confidence(max(c.strength for c in found), len(able)),
            f"The time of the stroke changes with the length of the putt: {how} on longer putts.",
            evidence, "Length and time change together, so two things must be right for one distance.",
            "Try one beat for all lengths and let the markers make the difference. Keep it only if the "
            "distances get more even: some good players do change their time.",
            _SPLIT, indices,
        )  # fmt: skip
    if all(-CHANGE_RULED_OUT <= end <= CHANGE_RULED_OUT for c in changes for end in c.interval):
        return Finding(
            "time-holds-over-length", "note", "fair",
            "The time of the stroke stays the same over the lengths of putt.",
            evidence, "", "One beat fits all lengths; change the markers, not the beat.", _SPLIT, indices,
        )  # fmt: skip
    return Finding(
        "time-over-length-unclear", "note", "low",
        "It cannot be told yet whether the time of the stroke changes with the length of the putt.",
        evidence, "The strokes differ too much, or are too few, to say.",
        "Record ten putts each at a short and at a long distance.", _SPLIT, indices,
    )  # fmt: skip


def _change(putts: Sequence[Stroke], logs: FloatArray, span: float, measure: str, name: str) -> _Change:
    line = line_of(logs, np.log(values(putts, measure)[0]))
    share = math.expm1(line.slope * span)
    return _Change(name, share, (1.0 + share) * line.slope_sd * span, line, span)


def _backswing_over_length(putts: Sequence[Stroke]) -> Finding | None:
    able = measured(putts, "backswing_length_m")
    able, logs, is_asked = log_lengths(able)
    if not is_asked or not lengths_differ(logs):
        return None
    line = line_of(logs, np.log(values(able, "backswing_length_m")[0]))
    short_by = strength(FOLLOWS - line.slope, line.slope_sd, line.freedom)
    if short_by < needed_strength():
        return None
    span = float(np.ptp(logs))
    grows, wanted = math.expm1(line.slope * span), math.expm1(0.5 * span)
    return Finding(
        "length-ignores-putt", "act" if line.slope < FOLLOWS / 2 else "watch",
        confidence(short_by, len(able)),
        "The backswing hardly gets longer on longer putts.",
        f"Backswing length {_signed(grows, (1 + grows) * line.slope_sd * span)}, "
        f"{_range_in_words(able, is_asked)}, over {putts_counted(able)}; at one tempo it would be "
        f"about {100 * wanted:+.0f} %.",
        "The extra speed has to come from somewhere else than the length of the swing.",
        "Putt to the back markers of two lengths in turn, at one beat.",
        _SQUARE_ROOT, tuple(s.index for s in able),
    )  # fmt: skip


def _signed(share: float, sd: float) -> str:
    return f"{'+' if share > 0 else ''}{figure(100.0 * share, 'percent', 100.0 * sd)}"


def _range_in_words(putts: Sequence[Stroke], is_asked: bool) -> str:
    if is_asked:
        lengths = sorted(s.asked_length_m for s in putts if s.asked_length_m is not None)
        return f"from {putt_lengths(lengths[:1])} to {putt_lengths(lengths[-1:])}"
    return "from the shortest to the longest backswing (no lengths of putts were noted)"
