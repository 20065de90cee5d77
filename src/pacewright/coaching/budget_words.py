"""What an error budget says, in plain sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence

from pacewright.coaching.budget import Cause, ErrorBudget
from pacewright.coaching.judgement import JudgementSplit
from pacewright.coaching.outcomes import ErrorScore, GuessScore, Score
from pacewright.coaching.percentages import about, count, percent, whole_percent
from pacewright.coaching.what_if import Payoff
from pacewright.core.display import Units, format_number, format_putt_length

LABELS = {
    "length": "stroke length",
    "timing": "timing",
    "shape": "shape of the stroke",
    "strike": "strike",
    "green_and_judgement": "green and judgement",
}
PAYOFF_HEAD = ("What if", "Spread", "Left outside 3 ft", "Three-putts a round")
CLEAR_LUCK = 0.10
"""A best third this unlikely by luck counts as seen."""
NO_STEADIER = 0.97
FELT, NOT_FELT = 0.5, 0.2


def short_length(length_m: float, units: Units) -> str:
    """A length of a few hand's breadths to some metres: ``26 cm``, ``1.3 m``; ``10 in``, ``4.1 ft``."""
    if not math.isfinite(length_m):
        return "–"
    small, large, edge = (
        (("cm", 0.01), ("m", 1.0), 0.995) if units == "metric" else (("in", 0.0254), ("ft", 0.3048), 0.6)
    )
    (symbol, size), decimals = (small, 0) if length_m < edge else (large, 1)
    return f"{format_number(length_m / size, decimals)} {symbol}"


def label(budget: ErrorBudget, name: str) -> str:
    """A cause in words, with those that are counted in it."""
    within = [LABELS[cause.name] for cause in budget.causes if cause.counted_in == name]
    return f"{LABELS[name]} with {listed(within)}" if within else LABELS[name]


def listed(words: Sequence[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def statement(budget: ErrorBudget) -> str:
    """The answer in one sentence."""
    known = [cause for cause in budget.causes if cause.share is not None]
    putts = count(budget.putts, "putt")
    if not known:
        return f"{putts} cannot show why the distance varies; about {about(budget.putts_needed)} usually do."
    spread = f"The distance varies by {percent(budget.spread_share)}"
    if len(known) == 1:
        return f"{spread}. Nothing of the stroke was measured, so these putts cannot say why."
    if not budget.enough:
        return f"{spread}. {putts} cannot say yet why; about {about(budget.putts_needed)} would do."
    first, *others = sorted(known, key=_value, reverse=True)
    second = others[0]
    assert first.share is not None
    assert second.share is not None
    one, other = label(budget, first.name), label(budget, second.name)
    if first.share.low > second.share.high:
        return f"{spread}, most of all through {one}."
    if first.share.low > second.share.value:
        return f"{spread}, most through {one}, it seems, then {other}."
    return (
        f"{spread}. {one.capitalize()}, and {other}, weigh most; which of the two weighs more is not clear."
    )


def _value(cause: Cause) -> float:
    return cause.share.value if cause.share is not None else -math.inf


def explanation(budget: ErrorBudget, score: Score | None) -> list[str]:
    """What the answer rests on, a sentence each."""
    if math.isnan(budget.spread_share):
        return []
    off = "" if score is None else f" A putt is {percent(score.length.absolute)} off on average."
    sentences = [
        f"From {count(budget.putts, 'putt')}: spread {percent(budget.spread_share)} of the distance (90 % "
        f"sure between {percent(budget.spread_low)} and {percent(budget.spread_high)}), {_bias(budget)}.{off}"
    ]
    below = [LABELS[c.name] for c in budget.causes if c.share is not None and c.share.high < 0.0]
    if below:
        sentences.append(f"A share below 0 means that a cause makes up for others, as {listed(below)} does.")
    if budget.judgement is not None:
        sentences.append(_judgement(budget.judgement))
    return sentences


def _judgement(split: JudgementSplit) -> str:
    """What mixed and repeated blocks say of reading the distance."""
    spreads = (
        f"The spread was {percent(split.mixed_spread)} in mixed putts and {percent(split.repeated_spread)} "
        "in repeated ones"
    )
    most = whole_percent(max(split.reading_high, 0.0))
    if split.reading_low <= 0.0:
        return f"{spreads}: reading the distance may make up to {most} of the variance, or nothing."
    return (
        f"{spreads}: reading the distance makes {whole_percent(split.reading)} of the variance (90 % sure "
        f"between {whole_percent(split.reading_low)} and {most}), execution {whole_percent(split.execution)}."
    )


def _bias(budget: ErrorBudget) -> str:
    error_of_mean = budget.spread_share / math.sqrt(budget.putts)
    if abs(budget.bias_share) < 2.0 * error_of_mean:
        return "with no clear bias short or long"
    where = "past" if budget.bias_share > 0.0 else "short"
    return f"on average {percent(abs(budget.bias_share))} {where}"


def cause_head(length_m: float, units: Units) -> tuple[str, ...]:
    """Heads of the columns of `cause_row`."""
    at = format_putt_length(length_m, units)
    return ("Cause", "Share of variance", "90 % sure between", f"Alone, at {at}", "Spread without it")


def cause_row(cause: Cause, length_m: float, units: Units) -> tuple[str, str, str, str, str]:
    """Cause, share, its interval, what it scatters by alone at that length, and the spread without it."""
    label = LABELS[cause.name].capitalize()
    if cause.share is None:
        return label, "–", f"in {LABELS[cause.counted_in]}" if cause.counted_in else "–", "–", "–"
    share = cause.share
    return (
        label,
        whole_percent(share.value),
        f"{whole_percent(share.low)} to {whole_percent(share.high)}",
        short_length(cause.spread_share * length_m, units),
        percent(cause.spread_without),
    )


def payoff_rows(payoffs: Sequence[Payoff]) -> list[tuple[str, str, str, str]]:
    """What if: the change, the spread then, leaves outside 3 ft and three-putts a round; first as it is."""
    if not payoffs:
        return []
    first = payoffs[0]
    rows = [
        (
            "As it is",
            percent(first.spread_now),
            f"{first.round_now.left_outside:.1f}",
            f"{first.round_now.three_putts:.1f}",
        )
    ]
    rows.extend(
        (
            _change(one),
            percent(one.spread_then),
            f"{one.round_then.left_outside:.1f}",
            f"{one.round_then.three_putts:.1f}",
        )
        for one in payoffs
        if one.spells is None or _is_seen(one)
    )
    return rows


def _change(one: Payoff) -> str:
    label = LABELS[one.cause].capitalize()
    if one.reason == "best third":
        return f"{label} as steady as in its best third ({whole_percent(one.factor)} of its spread)"
    if one.reason == "half":
        return f"{label} with half its spread"
    return f"{label} with {whole_percent(one.factor)} of its spread"


def _is_seen(one: Payoff) -> bool:
    return one.spells is not None and one.spells.chance < CLEAR_LUCK and one.factor < NO_STEADIER


def payoff_notes(payoffs: Sequence[Payoff]) -> list[str]:
    """Where the best third of the session was no steadier than luck makes it."""
    same = [LABELS[one.cause] for one in payoffs if one.spells is not None and not _is_seen(one)]
    if not same:
        return []
    return [f"The best third of these putts is no steadier than luck alone makes it in: {', '.join(same)}."]


def other_scores(score: Score) -> list[str]:
    """Line and guess, a sentence each."""
    sentences = []
    if score.line is not None:
        sentences.append(f"Line: {_side(score.line)}, spread {percent(score.line.variable)} of the distance.")
    if score.guess is not None and math.isfinite(score.guess.correlation):
        sentences.append(f"Guesses of where the ball stopped: {_felt(score.guess)}.")
    return sentences


def _felt(guess: GuessScore) -> str:
    off = f"{percent(guess.spread)} off (SD)"
    if guess.correlation_low > FELT:
        return f"the player feels most of the misses, {off}"
    if guess.correlation_low > NOT_FELT:
        return f"the player feels some of the misses, {off}"
    if guess.correlation_high < FELT:
        return f"the player feels few of the misses, {off}"
    return f"{off}; {count(guess.putts, 'putt')} cannot tell whether the player feels the misses"


def _side(line: ErrorScore) -> str:
    if not abs(line.constant) > 2.0 * line.constant_sd:
        return "no clear bias to a side"
    return f"{percent(abs(line.constant))} {'left' if line.constant > 0.0 else 'right'} on average"
