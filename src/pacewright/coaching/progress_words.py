"""What a comparison of two sessions says to the coach, in plain sentences."""

from __future__ import annotations

import math

from pacewright.coaching.percentages import about, count, percent, whole_percent
from pacewright.coaching.progress import Change, Comparison
from pacewright.coaching.spread_change import SpreadChange

SENSIBLE_PUTTS = 300
HEADLINES = {
    "better": "Better: the distances spread less than before",
    "unclear": "No clear change in the spread of distance",
    "worse": "Worse: the distances spread more than before",
}
VERDICT_WORDS = {"better": "better", "unclear": "no clear change", "worse": "worse"}
LABELS = {
    "mean_error_share": "Average finish (+ is longer)",
    "time_ratio_mean": "Time ratio, average",
    "time_ratio_spread": "Time ratio, spread",
    "downswing_time_s_mean": "Downswing time, average",
    "downswing_time_s_spread": "Downswing time, spread",
    "downswing_time_s_drift_per_ten_putts": "Downswing time, drift over ten putts",
    "backswing_time_s_mean": "Backswing time, average",
    "backswing_time_s_spread": "Backswing time, spread",
}
CHANGE_HEAD = ("Also", "Change", "Between", "")
PHASE_NOTES = {
    "retention": "Judged by the retention putts: what lasted.",
    "transfer": "Judged by the transfer putts: what carried over to a new task.",
    "learning": "Judged by putts hit while practising. Only a test on another day, without help, "
    "shows whether it lasts.",
}


def statement(found: Comparison) -> str:
    """The verdict in one sentence."""
    headline = HEADLINES[found.spread.verdict]
    before, after = percent(found.before.spread_share), percent(found.after.spread_share)
    return f"{headline} ({after} of the length now, {before} before)."


def explanation(found: Comparison) -> list[str]:
    """What the verdict rests on and what would settle it, a sentence each."""
    sentences = [_range_sentence(found), *_settle_sentences(found)]
    if found.phase:
        sentences.append(PHASE_NOTES[found.phase])
    elif found.spread.verdict == "better":
        sentences.append("A test on another day, without help, shows whether it lasts.")
    return sentences


def _range_sentence(found: Comparison) -> str:
    ratio = found.spread.ratio
    looks = "if this was the one look you planned"
    if found.rule == "every putt":
        looks = "however often you look; days that differ a little are allowed for"
    if ratio.low <= 0.0 or not math.isfinite(ratio.high):
        return "These putts are too few to say how much the spread changed."
    low, high = whole_percent(ratio.low), whole_percent(ratio.high)
    sure = 90 if found.rule == "every putt" else 95
    return f"The spread is now between {low} and {high} of what it was ({sure} % sure, {looks})."


def _settle_sentences(found: Comparison) -> list[str]:
    spread = found.spread
    if spread.verdict != "unclear":
        return []
    sentences = []
    putts = _putts_words(found)
    if math.isfinite(spread.verdict_ratio):
        fall = whole_percent(1.0 - 1.0 / spread.verdict_ratio)
        sentences.append(f"With {putts} a spread has to fall by about {fall} before it shows.")
    else:
        sentences.append(f"With {putts} no change can be told from luck.")
    if spread.putts_to_settle > SENSIBLE_PUTTS:
        sentences.append("The change looks too small for two sessions to settle; more putts would hardly do.")
    else:
        sentences.append(
            f"If the change is as it looks, about {about(spread.putts_to_settle)} putts in each session "
            "would probably settle it."
        )
    return sentences


def _putts_words(found: Comparison) -> str:
    one, two = found.before.putts, found.after.putts
    return f"{count(one, 'putt')} in each session" if one == two else f"{one} putts before and {two} after"


def phase_sentence(word: str, change: SpreadChange) -> str:
    """One further kind of block."""
    reach = ""
    if change.ratio.low > 0.0 and math.isfinite(change.ratio.high):
        low, high = whole_percent(change.ratio.low), whole_percent(change.ratio.high)
        reach = f" (spread now {low} to {high} of what it was)"
    return f"{word.capitalize()}: {VERDICT_WORDS[change.verdict]}{reach}."


def change_row(change: Change) -> tuple[str, str, str, str]:
    """Label, change, its 90 % interval, and whether it is clear, for a table."""
    span = change.span
    if change.unit == "ratio":
        figures = [
            f"×{figure:.2f}" if math.isfinite(figure) else "?" for figure in (span.value, span.low, span.high)
        ]
    else:
        figures = [_signed(figure) for figure in (span.value, span.low, span.high)]
    interval = f"{figures[1]} to {figures[2]}"
    if change.unit == "share" and not math.isfinite(span.high):
        interval = "too few putts"
    return LABELS[change.name], figures[0], interval, "clear" if change.is_clear else "not clear"


def _signed(share: float) -> str:
    text = percent(share)
    return f"+{text}" if share > 0 and text != "0 %" and math.isfinite(share) else text
