"""What a drill and its history show, in plain sentences, with published figures beside them."""

from __future__ import annotations

import math

from pacewright.coaching.drills import LEAST_SESSIONS_FOR_TREND, DrillHistory, DrillScore, TimingScore
from pacewright.coaching.percentages import count, percent, whole_percent
from pacewright.coaching.skill_norms import spread_norm, tour_expected_putts, tour_holed
from pacewright.core.display import Units, format_putt_length_both


def drill_sentences(drill: DrillScore, units: Units = "metric") -> list[str]:
    """What one go showed."""
    inside, length = drill.inside, drill.length
    sentences = [
        f"{count(drill.putts, 'putt')}, {round(inside.value * drill.putts)} of them within a tenth of the "
        f"distance ({whole_percent(inside.value)}; 90 % sure between {whole_percent(inside.low)} and "
        f"{whole_percent(inside.high)}).",
        f"Spread {percent(length.variable)} of the distance ({percent(length.variable_low)} to "
        f"{percent(length.variable_high)}); on average {_side(length.constant, length.constant_sd)}.",
    ]
    if drill.timing is not None:
        sentences.append(_timing_sentence(drill.timing))
    return sentences + norm_sentences(drill, units)


def _side(constant: float, sd: float) -> str:
    if abs(constant) < 1.645 * sd:
        return "neither long nor short as far as these putts tell"
    return f"{percent(abs(constant))} {'long' if constant > 0.0 else 'short'}"


def _timing_sentence(timing: TimingScore) -> str:
    kept = ""
    if timing.on_beat is not None:
        kept = f"; {whole_percent(timing.on_beat.value)} of the backswings kept the beat"
    steady = percent(timing.downswing_spread)
    return f"Time ratio {timing.time_ratio:.1f}; the downswing time varies by {steady}{kept}."


def norm_sentences(drill: DrillScore, units: Units = "metric") -> list[str]:
    """The player beside published figures, with population and number; no grade."""
    is_repeated = len(drill.lengths_m) == 1
    norm = spread_norm("repeated" if is_repeated else "mixed")
    sentences = [
        f"For comparison, {norm.population}: spread {percent(norm.value)} over {norm.task} ({norm.source})."
    ]
    if not is_repeated:
        return sentences
    return sentences + _tour_sentences(drill, units)


def _tour_sentences(drill: DrillScore, units: Units) -> list[str]:
    length = format_putt_length_both(drill.lengths_m[0], units)
    sentences = []
    share, putts = tour_holed().share(drill.lengths_m[0])
    if drill.holed and putts:
        sentences.append(
            f"Holed {drill.holed} of {drill.putts} from {length}; on the course {tour_holed().population}, "
            f"holed {whole_percent(share)} from about there ({putts:,} putts; {tour_holed().source})."
        )
    expected = tour_expected_putts()
    if math.isfinite(needed := expected.putts(drill.lengths_m[0])):
        sentences.append(
            f"{expected.population} take {needed:.2f} putts from {length} on average "
            f"({expected.source}, {expected.status})."
        )
    return sentences


def history_sentences(history: DrillHistory) -> list[str]:
    """What the history shows; no trend is claimed that luck explains."""
    by_itself = math.expm1(math.sqrt(2.0) * history.typical_error)
    few = len(history.scores) < LEAST_SESSIONS_FOR_TREND
    by_what = "luck alone changes the spread by" if few else "the spread usually changes by"
    sentences = [
        f"{len(history.scores)} goes at this drill. From one to the next {by_what} about "
        f"{whole_percent(by_itself)}; a change under {whole_percent(history.detectable)} says nothing."
    ]
    trend = history.trend
    if trend is None:
        sentences.append(f"A trend takes {LEAST_SESSIONS_FOR_TREND} goes or more.")
    elif trend.high < 0.0:
        sentences.append(f"The spread falls by about {percent(-trend.value)} a go.")
    elif trend.low > 0.0:
        sentences.append(f"The spread grows by about {percent(trend.value)} a go.")
    else:
        sentences.append("No clear trend.")
    return sentences
