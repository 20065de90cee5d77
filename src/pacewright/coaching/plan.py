"""A practice plan from the error budget, the beat and the days at hand.

Numbers in, decisions out; the reasons for each choice are in `plan_reasons`. Method page:
docs/methods/practice-plan.md.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from pacewright.coaching.plan_reasons import CAUTIONS, DRILLS, FOCUS_NAMES, choices, stop_rules
from pacewright.coaching.spread_change import Span
from pacewright.core.errors import SettingsError
from pacewright.core.plan import BeatUse, PlanBlock, PlanSession, PracticePlan
from pacewright.core.station import Station

LEAST_SESSIONS = 3
MOST_SESSIONS = 60
SECONDS_A_PUTT = 40.0
"""A putt with its rehearsal stroke, guess and note (our choice)."""
MOST_PUTTS_A_DAY = 90
LEAST_MINUTES, MOST_MINUTES = 20, 90
BREAK_EVERY_MINUTES, BREAK_MINUTES = 15, 2
RUN = 3
BLOCKED_SHARE = (0.6, 0.3, 0.1)
"""Share of the putts in runs at one length, in the first, middle and last third of the practice days."""
STAGE_NAMES = ("Find it", "Vary it", "Keep it")
STAGE_BEATS: tuple[BeatUse, ...] = ("on", "every other putt", "off")
FREE_PUTTS = 9
LEAST_TEST_PUTTS, MOST_TEST_PUTTS = 10, 60
NO_FEEDBACK = "No advice."
GUESS_FIRST = "The player says how far past or short before looking up; then look, then note."
ON_REQUEST = "On request: the coach speaks when asked, or at the end of the block."
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True, slots=True)
class PlanRequest:
    """What the plan is made from.

    ``shares`` are those of the error budget by cause, with their 90 % intervals; empty without one, and
    ``budget_enough`` says whether they are known well enough to act on. ``dates`` are the days at hand, in
    order, or None for each where no days were named. ``beat_found`` says that the beat was found with this
    player. ``minutes`` a day.
    """

    dates: Sequence[datetime.date | None]
    lengths_m: Sequence[float]
    beats_per_minute: float
    player: str = ""
    beat_found: bool = False
    minutes: int = 40
    test_putts: int = 30
    shares: Mapping[str, Span] = field(default_factory=dict)
    budget_enough: bool = False
    station: Station | None = None


def practice_plan(request: PlanRequest) -> PracticePlan:
    """Make the plan. Raises SettingsError for days, minutes or lengths that give none."""
    _check(request)
    lengths = tuple(sorted(set(request.lengths_m)))
    focus = choose_focus(request.shares, request.budget_enough)
    sessions = [_session(request, lengths, focus, number) for number in range(1, len(request.dates) + 1)]
    return PracticePlan(
        player=request.player,
        focus=focus,
        aim=_aim(focus),
        beats_per_minute=request.beats_per_minute,
        lengths_m=lengths,
        station=request.station,
        sessions=tuple(sessions),
        choices=tuple(choices(request, focus)),
        stop_rules=tuple(stop_rules(len(sessions))),
        cautions=CAUTIONS,
    )


def _check(request: PlanRequest) -> None:
    count = len(request.dates)
    if not LEAST_SESSIONS <= count <= MOST_SESSIONS:
        raise SettingsError(
            f"A plan of {count} sessions makes no sense; it needs {LEAST_SESSIONS} to {MOST_SESSIONS}: "
            "a first test, practice, and a retention test on another day."
        )
    if not LEAST_MINUTES <= request.minutes <= MOST_MINUTES:
        raise SettingsError(
            f"{request.minutes} minutes a day is outside {LEAST_MINUTES} to {MOST_MINUTES}; 40 is usual."
        )
    if not LEAST_TEST_PUTTS <= request.test_putts <= MOST_TEST_PUTTS:
        raise SettingsError(
            f"A test of {request.test_putts} putts is outside {LEAST_TEST_PUTTS} to {MOST_TEST_PUTTS}; "
            "30 is usual."
        )
    if not request.lengths_m:
        raise SettingsError("A plan needs at least one length of putt, such as 20ft.")
    for length in request.lengths_m:
        if not (math.isfinite(length) and 0.0 < length <= 40.0):
            raise SettingsError(f"A putt of {length:g} m is outside 0 to 40 m.")


def choose_focus(shares: Mapping[str, Span], enough: bool) -> str:
    """The cause that practice goes for: the largest share, where it is known to be larger than the next.

    Empty when there is no budget, too few putts, or when the largest might as well be another.
    """
    known = {name: span for name, span in shares.items() if name in FOCUS_NAMES}
    if not enough or not known:
        return ""
    ranked = sorted(known.items(), key=lambda item: -item[1].value)
    name, largest = ranked[0]
    following = ranked[1][1].value if len(ranked) > 1 else 0.0
    return name if largest.low > following else ""


def session_dates(
    start: datetime.date, weekdays: Sequence[str], *, weeks: int = 0, sessions: int = 0
) -> list[datetime.date]:
    """The days at hand from ``start`` on: those ``weekdays`` (mon … sun) over ``weeks``, or so many sessions.

    Raises SettingsError for a weekday that is none, or without any limit.
    """
    chosen = {word.strip().lower()[:3] for word in weekdays if word.strip()}
    unknown = sorted(chosen - set(WEEKDAYS))
    if unknown or not chosen:
        raise SettingsError(f"'{', '.join(unknown)}' is not a day of the week; use mon,thu.")
    if weeks <= 0 and sessions <= 0:
        raise SettingsError("Give a number of weeks or of sessions above 0.")
    most = sessions if sessions > 0 else len(chosen) * weeks
    days = (start + datetime.timedelta(days=k) for k in range(7 * (most + 1)))
    return [day for day in days if WEEKDAYS[day.weekday()] in chosen][:most]


def transfer_lengths(lengths_m: Sequence[float]) -> tuple[float, ...]:
    """Lengths that were not practised: between neighbours, and one and a half times a single one."""
    ordered = sorted(set(lengths_m))
    if len(ordered) == 1:
        return (round(1.5 * ordered[0], 2),)
    return tuple(round(math.sqrt(a * b), 1) for a, b in pairwise(ordered))


def _aim(focus: str) -> str:
    if not focus:
        return "A smaller spread of distance. No single cause stands out, so practice covers them in turn."
    return f"A smaller spread of distance, by way of {FOCUS_NAMES[focus]}."


def _session(request: PlanRequest, lengths: tuple[float, ...], focus: str, number: int) -> PlanSession:
    last = len(request.dates)
    date = request.dates[number - 1]
    if number == last:
        return _retention_session(request, lengths, number, date)
    test = number == 1
    blocks = [_warm_up(lengths)]
    if test:
        blocks.append(_test_block("First test", lengths, request.test_putts))
    stage = min(2, 3 * (number - 1) // (last - 1))
    cause = focus or _cause_in_turn(number)
    used = sum(block.putts for block in blocks)
    putts = min(_putts_in(request.minutes), MOST_PUTTS_A_DAY) - used
    if putts >= 2 * RUN:
        blocks.extend(_practice_blocks(lengths, cause, stage, putts))
    return PlanSession(
        number=number,
        kind="first test" if test else "practice",
        date=date,
        minutes=_minutes(sum(block.putts for block in blocks)),
        aim=("Where the player stands. " if test else "") + f"{STAGE_NAMES[stage]}: {FOCUS_NAMES[cause]}.",
        blocks=tuple(blocks),
    )


def _cause_in_turn(number: int) -> str:
    """Without a focus the causes take turns."""
    causes = tuple(FOCUS_NAMES)
    return causes[(number - 1) % len(causes)]


def _retention_session(
    request: PlanRequest, lengths: tuple[float, ...], number: int, date: datetime.date | None
) -> PlanSession:
    others = transfer_lengths(lengths)
    blocks = (
        _warm_up(lengths),
        _test_block("Retention test", lengths, request.test_putts),
        _test_block("Transfer test, lengths not practised", others, max(request.test_putts // 2, 10)),
    )
    return PlanSession(
        number=number,
        kind="retention test",
        date=date,
        minutes=_minutes(sum(block.putts for block in blocks)),
        aim="What lasted: compare with the first test.",
        blocks=blocks,
    )


def _warm_up(lengths: tuple[float, ...]) -> PlanBlock:
    return PlanBlock(
        title="Warm-up",
        task="Easy putts to feel today's green. Not counted.",
        lengths_m=lengths,
        putts=_whole_rounds(6, len(lengths)),
        order="mixed",
        beat="off",
        markers=False,
        feedback="",
        is_recorded=False,
    )


def _test_block(title: str, lengths: tuple[float, ...], putts: int) -> PlanBlock:
    return PlanBlock(
        title=title,
        task="One ball, one putt, then the next length, in random order. To a line or a tee, not to a hole.",
        lengths_m=lengths,
        putts=_whole_rounds(putts, len(lengths)),
        order="mixed",
        beat="off",
        markers=False,
        feedback=NO_FEEDBACK,
        is_recorded=True,
    )


def _practice_blocks(lengths: tuple[float, ...], cause: str, stage: int, putts: int) -> list[PlanBlock]:
    """Runs of three with help, mixed putts with less of it, and a few putts as on the course."""
    free = min(FREE_PUTTS, putts // 3)
    runs = RUN * max(round(BLOCKED_SHARE[stage] * (putts - free) / RUN), 1)
    mixed = max(putts - free - runs, 0)
    drill, stage_name = DRILLS[cause], STAGE_NAMES[stage]
    in_runs = drill.in_runs if stage < 2 else drill.alone
    in_mixed = drill.mixed if stage == 0 else drill.alone
    made = [
        PlanBlock(
            f"{stage_name}: runs of three", in_runs, lengths, runs, "runs of three",
            STAGE_BEATS[stage], drill.markers and stage < 2, ON_REQUEST, False,
        ),
        PlanBlock(
            f"{stage_name}: mixed", in_mixed, lengths, mixed, "mixed",
            STAGE_BEATS[min(stage + 1, 2)], drill.markers and stage == 0, GUESS_FIRST, True,
        ),
        PlanBlock(
            "As on the course", "One ball, full routine, one thought: where it shall finish.", lengths, free,
            "mixed", "off", False, GUESS_FIRST, True,
        ),
    ]  # fmt: skip
    return [block for block in made if block.putts > 0]


def _whole_rounds(putts: int, lengths: int) -> int:
    """Putts rounded up to as many at each length."""
    return lengths * math.ceil(putts / lengths)


def _minutes(putts: int) -> int:
    """Minutes that so many putts take, with a break every quarter of an hour."""
    work = putts * SECONDS_A_PUTT / 60.0
    return math.ceil(work + BREAK_MINUTES * math.floor(work / BREAK_EVERY_MINUTES))


def _putts_in(minutes: int) -> int:
    """Putts that fit into so many minutes, breaks included."""
    putts = 0
    while _minutes(putts + 1) <= minutes:
        putts += 1
    return putts
