"""Why a practice plan is as it is: drills by cause, and each choice with its reason, evidence and source."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pacewright.coaching.percentages import whole_percent
from pacewright.coaching.spread import sd_ratio_limit
from pacewright.core.plan import PlanChoice

if TYPE_CHECKING:
    from pacewright.coaching.plan import PlanRequest

BUDGET = "Error budget of this player's putts (docs/methods/error-budget.md)"
OURS = "No source; a plan has to choose."
TRADE = "Common practice, no published source."


@dataclass(frozen=True, slots=True)
class Drill:
    """What is done about one cause: in runs, in mixed putts, and when the aids are gone; whether it uses
    the markers."""

    in_runs: str
    mixed: str
    alone: str
    markers: bool


FOCUS_NAMES = {
    "length": "the length of the backswing",
    "timing": "the timing of the downswing",
    "shape": "an even speed through the ball",
    "strike": "the strike in the middle of the face",
    "green_and_judgement": "reading the distance",
}
"""What each cause of the error budget is called in a plan, in the order in which they take turns."""

DRILLS = {
    "length": Drill(
        "Back to the back marker and no further, then through. Three putts, then the next length.",
        "A new length every putt. Look at its marker once, then putt without looking back at it.",
        "The same backswing for each length as with the markers, now without them.",
        True,
    ),
    "timing": Drill(
        "Start on one, back marker on two, through marker on three. Three putts, then the next length.",
        "A new length every putt, the same count for all of them.",
        "Count in the head: the same one, two, three for every length.",
        True,
    ),
    "shape": Drill(
        "Reach the through marker without a push or a brake at the ball. Three putts, then the next length.",
        "A new length every putt; let the head swing through to its marker.",
        "Let the head swing through as far as it went back, without a push at the ball.",
        True,
    ),
    "strike": Drill(
        "Two tees just wider than the head, at the ball. Three putts between them, then the next length.",
        "A new length every putt, tees still in place; after a touch, note where on the face it was.",
        "Without the tees: say after each putt where on the face it was, before looking.",
        False,
    ),
    "green_and_judgement": Drill(
        "Walk the putt, say how it will roll, then putt. Three putts, then the next length.",
        "A new length and a new line every putt; say the distance in paces before each.",
        "A new length and a new line every putt, read as on the course.",
        False,
    ),
}

CAUTIONS = (
    "Low back pain is common among golfers, and too much practice is one factor: take the breaks, stop on "
    "pain, and see a qualified health professional if it stays (Lindsay and Vandervoort 2014).",
    "If the hands jerk without the player meaning it, stop and refer to a qualified health professional. "
    "This plan does not diagnose.",
    "Recording a minor needs the written consent of parent and child, a purpose, storage on this machine and "
    "a date to delete it. Local law and the club's safeguarding policy come first.",
)


def stop_rules(sessions: int) -> list[str]:
    """When to stop: in a putt, in a day, and in the plan."""
    middle = max(2, (sessions + 1) // 2)
    return [
        "Pain: stop at once, for the day.",
        "The planned number of putts is done, also on a good day.",
        f"After session {middle}, compare its recorded putts with the first test (pacewright compare). "
        "Worse: stop the plan and look at the causes again. No clear change: go on; that is usual. "
        "Better: go on to the retention test all the same.",
    ]


def choices(request: PlanRequest, focus: str) -> Iterator[PlanChoice]:
    """Every choice of the plan with its reason."""
    yield _focus_choice(request, focus)
    yield PlanChoice(
        "Order of putts",
        "Runs of three at first, then more and more mixed lengths.",
        "Runs help to find a movement; mixing is nearer to the course. The gain from mixing is modest, and "
        "studies disagree.",
        "mixed",
        "Czyż et al. 2024; Ammar et al. 2024",
    )
    yield PlanChoice(
        "Rehearsal",
        "One rehearsal stroke for the distance at hand before each putt.",
        "Rehearsal strokes at the target distance helped in a study.",
        "fair",
        "Hasegawa et al. 2020",
    )
    yield _beat_choice(request)
    yield _marker_choice(request)
    yield PlanChoice(
        "Guess first",
        "The player says where the ball finished before looking.",
        "Feeling where the ball stops is a skill of its own. That practising it mends distance is not shown.",
        "weak",
        "Tanaka and Iwami 2018; Hasegawa et al. 2022",
    )
    yield PlanChoice(
        "Advice",
        "On request or at the end of a block; one thought about the outcome on the course.",
        "Technical detail is for the coach; attention on the movement can disturb skilled players.",
        "fair",
        "Toner and Moran 2011; Beilock and Gray 2012",
    )
    yield PlanChoice(
        "Scores",
        "Length is scored apart from line.",
        "One score for both hides which of them changed.",
        "fair",
        "Neumann and Thomas 2008",
    )
    yield _test_choice(request)
    yield PlanChoice(
        "Amount",
        f"About {request.minutes} minutes a day with a break every quarter of an hour, 90 putts at most.",
        "No study found gives a best amount. Too much practice is a factor in back pain.",
        "our choice",
        f"{OURS} Back pain: Lindsay and Vandervoort 2014.",
    )


def _focus_choice(request: PlanRequest, focus: str) -> PlanChoice:
    if focus:
        share = request.shares[focus]
        between = f"{whole_percent(share.low)} to {whole_percent(share.high)}"
        return PlanChoice(
            "What to work on",
            f"{FOCUS_NAMES[focus][0].upper()}{FOCUS_NAMES[focus][1:]}.",
            f"It makes about {whole_percent(share.value)} of the variance of distance ({between}), more than "
            "any other cause. That working on the largest cause brings most is reasoned, not shown.",
            "derived",
            BUDGET,
        )
    if not request.shares:
        why = "There is no error budget yet; the first test can give one if the strokes are measured too."
    elif not request.budget_enough:
        why = "The error budget has too few putts to name a cause."
    else:
        why = "The largest cause in the error budget might as well be another."
    return PlanChoice("What to work on", "Every cause in turn.", why, "our choice", OURS)


def _beat_choice(request: PlanRequest) -> PlanChoice:
    beat = f"{request.beats_per_minute:g} beats a minute, on at first, then every other putt, then off."
    trials = (
        "Practice with a beat steadied the timing in trials; none was found that shows better distance "
        "control at a test on another day."
    )
    if request.beat_found:
        return PlanChoice(
            "Beat", beat, f"Found with this player's own putts. {trials}", "weak",
            "Tempo search (docs/methods/tempo-search.md); IJPAS 2020, 748668.2020.1789427",
        )  # fmt: skip
    return PlanChoice(
        "Beat", beat, f"A usual beat to start from. {trials}", "weak",
        f"{TRADE} Trials: IJPAS 2020, 748668.2020.1789427.",
    )  # fmt: skip


def _marker_choice(request: PlanRequest) -> PlanChoice:
    if request.station is None:
        return PlanChoice(
            "Markers",
            "Set by eye: no green speed was given.",
            "With a green speed the plan gives the place of each marker.",
            "custom",
            TRADE,
        )
    return PlanChoice(
        "Markers",
        "Behind and ahead of the ball at first, gone in the last third and in every test.",
        "Their places follow from green speed, length and beat. Help that is there in every putt is missed "
        "in a test without it.",
        "derived",
        f"Movement law (docs/methods/station.md); {request.station.constant_source}. Taking them away: "
        "common practice.",
    )


def _test_choice(request: PlanRequest) -> PlanChoice:
    putts = request.test_putts
    fall = whole_percent(1.0 - 1.0 / sd_ratio_limit(putts, putts))
    return PlanChoice(
        "Tests",
        f"{putts} putts at the start and {putts} on another day at the end, without help, then lengths that "
        "were not practised.",
        f"What shows during practice need not last. With {putts} putts each, looked at once, a spread has to "
        f"fall by about {fall} to show. Smaller gains stay unseen.",
        "derived",
        "F limits for normal errors (docs/methods/progress.md)",
    )
