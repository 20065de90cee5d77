"""What the search for a beat says, in plain sentences."""

from __future__ import annotations

import math

from pacewright.coaching.percentages import count, percent, whole_percent
from pacewright.coaching.tempo import LEAST_BEATS_TRIED, BeatResult, TempoChoice

BEAT_HEAD = ("Beats a minute", "Putts", "Spread", "90 % sure between", "Comfort")


def statement(choice: TempoChoice) -> str:
    """The answer in one sentence."""
    beat = f"{choice.beats_per_minute:.0f} beats a minute"
    if choice.verdict == "settled":
        return f"Settled: {beat} suits this player's distance control best."
    if len(choice.beats) == 1:
        return "Keep going: only one beat has been tried."
    if choice.verdict == "keep going":
        return f"Keep going: {beat} looks best so far."
    if choice.by_comfort:
        return f"The beats cannot be told apart by distance. Take {beat}, which felt most comfortable."
    return f"The beats cannot be told apart by distance. Take the one that feels best; {beat} will do."


def explanation(choice: TempoChoice) -> list[str]:
    """What the answer rests on and what to do next, a sentence each."""
    putts, beats = count(choice.putts, "putt"), count(len(choice.beats), "beat")
    sentences = [
        f"From {putts} at {beats}: {_chance_words(choice.probability_best)} that the best beat lies within "
        f"four of {choice.beats_per_minute:.0f}."
    ]
    if choice.verdict != "cannot be told apart" and len(choice.beats) >= LEAST_BEATS_TRIED:
        _, low, high = choice.cost_ten_beats
        sentences.append(
            f"Ten beats off the best, the spread grows by some {whole_percent(low)} to {whole_percent(high)}."
        )
    if choice.verdict == "cannot be told apart":
        sentences.append("A difference may still be there; it is too small for this many putts to show.")
    if choice.verdict != "settled":
        sentences.append(f"To find out more, putt the next block at {choice.next_beats_per_minute:.0f}.")
    return sentences


def _chance_words(chance: float) -> str:
    return f"{max(round(10.0 * chance), 1)} chances in ten" if chance < 0.95 else "it is nearly certain"


def beat_row(result: BeatResult) -> tuple[str, str, str, str, str]:
    """Beat, putts, spread, its 90 % interval from this beat alone, and comfort, for a table."""
    comfort = f"{result.comfort:.1f}".removesuffix(".0") if math.isfinite(result.comfort) else "–"
    return (
        f"{result.beats_per_minute:g}",
        f"{result.putts}",
        percent(result.spread_share),
        f"{percent(result.spread_low)} to {percent(result.spread_high)}",
        comfort,
    )
