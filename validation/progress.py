"""How often the comparison of two sessions errs, and what it sees.

Run `python -m validation.progress`: it rewrites docs/validation-progress.md (some 20 minutes on one core; a
number as argument gives the players a row). A false alarm is a verdict of better at any look, from the fifth
putt to the two hundredth, for a player who did not change.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pacewright.coaching.evidence import DAY_BIAS, DAY_FORM, log_evidence_smaller
from pacewright.coaching.session_fit import fit_session
from pacewright.coaching.spread import one_look_power
from pacewright.coaching.spread_change import rule_power, spread_change, verdict_now

OUTPUT = Path(__file__).parents[1] / "docs" / "validation-progress.md"
FloatArray = NDArray[np.float64]
Draw = Callable[[np.random.Generator, int], FloatArray]
PLAYERS = 250
POWER_PLAYERS = 1000
PUTTS = 200
FIRST_LOOK = 5
SPREAD = 0.1


def normal(rng: np.random.Generator, putts: int) -> FloatArray:
    return np.asarray(rng.normal(size=putts))


def student(rng: np.random.Generator, putts: int) -> FloatArray:
    return np.asarray(rng.standard_t(5, size=putts) / math.sqrt(5.0 / 3.0))


def laplace(rng: np.random.Generator, putts: int) -> FloatArray:
    return np.asarray(rng.laplace(size=putts) / math.sqrt(2.0))


def skewed(rng: np.random.Generator, putts: int) -> FloatArray:
    return np.asarray((rng.gamma(4.0, size=putts) - 4.0) / 2.0)


def mishits(rng: np.random.Generator, putts: int) -> FloatArray:
    """One putt in twenty is three times as wild."""
    return normal(rng, putts) * np.where(rng.random(putts) < 0.05, 3.0, 1.0)


def warming_up(rng: np.random.Generator, putts: int) -> FloatArray:
    """The first putts run two spreads long, and the player drifts by one and a half over 200 putts."""
    index = np.arange(putts)
    return normal(rng, putts) + 2.0 * 0.5 ** (index / 3.0) + 1.5 * index / PUTTS


def swinging(rng: np.random.Generator, putts: int) -> FloatArray:
    """Each error carries 0.3 of the last one."""
    errors = normal(rng, putts)
    for k in range(1, putts):
        errors[k] = 0.3 * errors[k - 1] + math.sqrt(1.0 - 0.3**2) * errors[k]
    return errors


def holed(rng: np.random.Generator, putts: int) -> FloatArray:
    """Three in ten of the putts that reach the hole fall in, pace not noted."""
    errors = normal(rng, putts)
    return np.where((errors > 0.0) & (rng.random(putts) < 0.3), np.nan, errors)


def days(form: float) -> Draw:
    """Each session has a spread of its own (SD ``form`` of its log) and a bias of its own."""

    def draw(rng: np.random.Generator, putts: int) -> FloatArray:
        spread = math.exp(form * rng.normal())
        return np.asarray(spread * (rng.normal(size=putts) + DAY_BIAS * rng.normal()))

    return draw


def first_verdict(before: FloatArray, after: FloatArray, asked_m: FloatArray, *, grow: bool) -> str:
    """The first verdict that is not `unclear` when looking after every putt; ``grow`` both sessions."""
    fixed = None if grow else fit_session(asked_m[: before.size], before)
    for putts in range(FIRST_LOOK, after.size + 1):
        if np.isfinite(after[:putts]).sum() < 3 or np.isfinite(before[:putts]).sum() < 3:
            continue
        earlier = fit_session(asked_m[:putts], before[:putts]) if fixed is None else fixed
        verdict = verdict_now(earlier, fit_session(asked_m[:putts], after[:putts]))
        if verdict != "unclear":
            return verdict
    return "unclear"


def false_alarms(
    draw: Draw, players: int, *, putts_before: int | None, mixed: bool, seed: int
) -> tuple[int, int]:
    """How many unchanged players are ever called better, and ever worse first."""
    rng = np.random.default_rng(seed)
    asked = np.resize([3.0, 6.0, 9.0], PUTTS) if mixed else np.full(PUTTS, 6.0)
    better = worse = 0
    for _ in range(players):
        before = SPREAD * draw(rng, putts_before or PUTTS)
        verdict = first_verdict(before, SPREAD * draw(rng, PUTTS), asked, grow=putts_before is None)
        better += verdict == "better"
        worse += verdict == "worse"
    return better, worse


def power(ratio: float, putts: int, players: int, seed: int) -> tuple[float, float]:
    """Share of players with that true ratio called better: at the last putt, and at some look up to it."""
    rng = np.random.default_rng(seed)
    asked = np.full(putts, 6.0)
    last = ever = 0
    for _ in range(players):
        before, after = SPREAD * normal(rng, putts), ratio * SPREAD * normal(rng, putts)
        earlier = fit_session(asked, before)
        at_last = verdict_now(earlier, fit_session(asked, after)) == "better"
        last += at_last
        # A verdict that came and went before the last putt would have stopped a coach who looks each time.
        ever += at_last or first_verdict(before, after, asked, grow=False) == "better"
    return last / players, ever / players


def coverage(ratio: float, putts: int, players: int, seed: int) -> tuple[float, float]:
    """Share of 90 % intervals that hold the true ratio, and their median width as high over low."""
    rng = np.random.default_rng(seed)
    asked, inside, widths = np.full(putts, 6.0), 0, []
    for _ in range(players):
        before = fit_session(asked, SPREAD * normal(rng, putts))
        found = spread_change(before, fit_session(asked, ratio * SPREAD * normal(rng, putts))).ratio
        inside += found.low <= ratio <= found.high
        widths.append(found.high / found.low if found.low > 0.0 else math.inf)
    return inside / players, float(np.median(widths))


SCENARIOS: tuple[tuple[str, Draw, int | None, bool], ...] = (
    ("normal errors, both sessions grow", normal, None, False),
    ("normal errors, 30 putts before", normal, 30, False),
    ("normal errors, 100 putts before", normal, 100, False),
    ("three lengths in turn, 30 before", normal, 30, True),
    ("heavy tails (t, 5 degrees), both grow", student, None, False),
    ("Laplace, 30 before", laplace, 30, False),
    ("skewed (gamma 4), 30 before", skewed, 30, False),
    ("one mishit in twenty, both grow", mishits, None, False),
    ("warm-up and drift in both, 30 before", warming_up, 30, False),
    ("each error carries 0.3 of the last, 30 before", swinging, 30, False),
    ("three in ten reaching putts holed, 30 before", holed, 30, False),
    ("day-to-day form of 3 %, both grow", days(0.03), None, False),
    (
        f"day-to-day form of {100 * DAY_FORM:.0f} % (what the rule allows for), both grow",
        days(DAY_FORM),
        None,
        False,
    ),
    (f"day-to-day form of {100 * DAY_FORM:.0f} %, 30 before", days(DAY_FORM), 30, False),
    (f"day-to-day form of {100 * DAY_FORM:.0f} %, 100 before", days(DAY_FORM), 100, False),
    ("day-to-day form of 10 % (more than it allows for), both grow", days(0.10), None, False),
)


def false_alarm_table(players: int) -> list[str]:
    lines = [
        "| players who did not change | players | first called better | first called worse |",
        "|---|---|---|---|",
    ]
    for seed, (name, draw, putts_before, mixed) in enumerate(SCENARIOS):
        better, worse = false_alarms(draw, players, putts_before=putts_before, mixed=mixed, seed=seed)
        lines.append(f"| {name} | {players} | {_rate(better, players)} | {_rate(worse, players)} |")
        print(lines[-1], flush=True)
    return lines


def plain_alarms(draw: Draw, players: int, seed: int) -> tuple[int, int]:
    """Unchanged players ever called better by an F test at each look, and by the evidence without any cut.

    Both sessions grow; 5 % on one side.
    """
    from scipy.special import fdtr

    rng = np.random.default_rng(seed)
    putts = np.arange(1, PUTTS + 1)
    freedom = putts[FIRST_LOOK - 1 :] - 1
    tested = evident = 0
    for _ in range(players):
        squares = []
        for _ in range(2):
            errors = draw(rng, PUTTS)
            squares.append(np.cumsum(errors**2) - np.cumsum(errors) ** 2 / putts)
        ratio = (squares[1] / np.maximum(squares[0], 1e-300))[FIRST_LOOK - 1 :]
        tested += bool(np.any(fdtr(freedom, freedom, ratio) < 0.05))
        evident += bool(np.any(log_evidence_smaller(ratio, freedom, freedom, 0.0) >= math.log(20.0)))
    return tested, evident


def plain_table(players: int) -> list[str]:
    lines = [
        "| players who did not change | F test at every look | evidence, no room for mishits and days |",
        "|---|---|---|",
    ]
    rows: tuple[tuple[str, Draw], ...] = (
        ("normal errors", normal), ("day-to-day form of 6 %", days(0.06)),
        ("heavy tails (t, 5 degrees)", student), ("Laplace", laplace),
        ("skewed (gamma 4)", skewed),
    )  # fmt: skip
    for seed, (name, draw) in enumerate(rows):
        tested, evident = plain_alarms(draw, players, 300 + seed)
        lines.append(f"| {name} | {_rate(tested, players)} | {_rate(evident, players)} |")
    return lines


def _rate(hits: int, players: int) -> str:
    """Share in percent, with its standard error."""
    share = hits / players
    return f"{100 * share:.1f} % ± {100 * math.sqrt(max(share * (1 - share), 1 / players) / players):.1f}"


def power_table(players: int) -> list[str]:
    lines = [
        "| putts each | true ratio | at the last putt | at some look | computed | one look, 95 % | "
        "one look, 5 % on one side |",
        "|---|---|---|---|---|---|---|",
    ]
    for seed, (putts, ratio) in enumerate([(30, 0.7), (30, 0.5), (60, 0.7), (100, 0.7), (100, 0.8)]):
        last, ever = power(ratio, putts, players if putts <= 30 else players // 4, 100 + seed)
        limits = [one_look_power(ratio, putts, putts, level) for level in (0.95, 0.90)]
        figures = [last, ever, rule_power(ratio, putts, putts), *limits]
        lines.append(f"| {putts} | {ratio} | " + " | ".join(f"{100 * one:.0f} %" for one in figures) + " |")
        print(lines[-1], flush=True)
    return lines


def coverage_table(players: int) -> list[str]:
    lines = ["| putts each | true ratio | intervals that hold it | high over low |", "|---|---|---|---|"]
    for seed, (putts, ratio) in enumerate([(20, 1.0), (30, 0.7), (100, 0.7)]):
        inside, width = coverage(ratio, putts, players, 200 + seed)
        lines.append(f"| {putts} | {ratio} | {100 * inside:.0f} % | {width:.1f} |")
    return lines


def main() -> None:
    players = int(sys.argv[1]) if len(sys.argv) > 1 else PLAYERS
    lines = [
        "# Validation: progress between two sessions",
        "",
        "Made by `python -m validation.progress` (seeded). How it works: [progress](methods/progress.md).",
        "",
        "## False alarms under peeking",
        "",
        f"The coach looks after every putt from the {FIRST_LOOK}th to the {PUTTS}th; the first verdict "
        "that is not unclear counts. The limit is 5 %; ± is the standard error of the simulation.",
        "",
        *false_alarm_table(players),
        "",
        "What the rule guards against: the same players judged by an F test at each look, and by evidence "
        "that neither cuts mishits nor knows of days that differ. Both sessions grow.",
        "",
        *plain_table(2 * players),
        "",
        "## What it sees",
        "",
        "Share of players called better. The last two columns are the theoretical limit: an F test of a "
        "number of putts fixed beforehand, looked at once. Peeking, and room for days that differ, cost that "
        "difference.",
        "",
        *power_table(min(POWER_PLAYERS, 3 * players)),
        "",
        "## Intervals",
        "",
        "90 % intervals that hold at every look are wider than those for one look, and cover more at each.",
        "",
        *coverage_table(min(POWER_PLAYERS, players)),
        "",
    ]
    OUTPUT.write_text("\n".join(lines))


if __name__ == "__main__":
    main()
