"""Accuracy of the error budget against players whose causes are known.

Run `python -m validation.budget`: it rewrites docs/validation-budget.md. The players come from
`simulate.players`: every spread drawn anew, one cause in four players absent, every second player with
coupled terms, times and constants that change with length, biases.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from unittest import mock

import numpy as np

from pacewright.coaching import share_fit
from pacewright.coaching.budget import error_budget
from pacewright.coaching.on_the_green import (
    TOUR_HOLED,
    TOUR_PLAYER,
    expected_putts,
    first_putt_holed,
)
from pacewright.coaching.terms import CAUSES
from pacewright.core.errors import SimulationError
from pacewright.core.measure import Measure
from pacewright.core.outcome import Putt
from pacewright.core.units import FOOT_M
from pacewright.simulate.players import (
    MeasurementNoise,
    SimulatedPlayer,
    Task,
    mixed_lengths,
    simulate_mixed,
    simulate_putts,
)

OUTPUT = Path(__file__).parents[1] / "docs" / "validation-budget.md"
PLAYERS = 600
PUTTS_OF_TABLE = {
    3: 1.053, 5: 1.256, 8: 1.515, 10: 1.626, 15: 1.790, 20: 1.878, 30: 1.978, 40: 2.055, 50: 2.135, 60: 2.218,
}  # fmt: skip
"""Expected putts of the tour by feet: per-foot table after Broadie, second-hand."""

Session = Callable[[SimulatedPlayer, np.random.Generator, int], Sequence[Putt]]


@dataclass
class Tally:
    """Errors of the shares and whether the truth was inside, by player and cause; shares of absent causes."""

    errors: list[list[float]] = field(default_factory=list)
    inside: list[list[bool]] = field(default_factory=list)
    absent: list[float] = field(default_factory=list)
    enough: list[bool] = field(default_factory=list)

    def add(self, player: SimulatedPlayer, putts: Sequence[Putt]) -> None:
        """Judge one player's budget."""
        truth, budget = player.true_shares(), error_budget(putts)
        shares = [cause.share for cause in budget.causes]
        if any(share is None for share in shares):
            return
        known = [share for share in shares if share is not None]
        self.errors.append([share.value - truth[name] for share, name in zip(known, CAUSES, strict=True)])
        self.inside.append([s.low <= truth[name] <= s.high for s, name in zip(known, CAUSES, strict=True)])
        self.enough.append(budget.enough)
        for share, name in zip(known, CAUSES, strict=True):
            if name != "green_and_judgement" and getattr(player, f"{name}_sd") == 0.0:
                self.absent.append(share.value)


def draw(rng: np.random.Generator, *, coupled: float = 0.5) -> SimulatedPlayer:
    """A player: spreads of the terms 1 to 6 %, one in four without one cause of the stroke."""
    names = ["length_sd", "timing_sd", "shape_sd", "strike_sd"]
    sds = dict(zip(names, rng.uniform([0.02, 0.02, 0.01, 0.01], [0.06, 0.06, 0.05, 0.04]), strict=True))
    if rng.random() < 0.25:
        sds[names[int(rng.integers(4))]] = 0.0
    while True:
        pairs = {("length", "timing"): rng.uniform(-0.6, 0.3), ("timing", "shape"): rng.uniform(-0.4, 0.4)}
        player = SimulatedPlayer(
            **{name: float(sd) for name, sd in sds.items()},
            judgement_sd=rng.uniform(0.02, 0.08),
            green_sd=rng.uniform(0.015, 0.03),
            correlation=pairs if rng.random() < coupled else {},
            bias=rng.uniform(-0.08, 0.05),
            bias_slope=rng.uniform(-0.05, 0.02),
            time_exponent=rng.uniform(-0.03, 0.06),
            shape_exponent=rng.uniform(-0.04, 0.04),
            swing_constant=rng.uniform(1.5, 1.75),
            downswing_time_s=rng.uniform(0.26, 0.36),
        )
        try:
            player.covariance()
        except SimulationError:
            continue
        return player


def usual(player: SimulatedPlayer, rng: np.random.Generator, putts: int) -> Sequence[Putt]:
    """Mixed lengths, measured at 240 Hz, uncertainties given."""
    return simulate_mixed(player, rng, putts)


def exact(player: SimulatedPlayer, rng: np.random.Generator, putts: int) -> Sequence[Putt]:
    """Measured without noise."""
    return simulate_mixed(player, rng, putts, noise=MeasurementNoise.none())


def untold(player: SimulatedPlayer, rng: np.random.Generator, putts: int) -> Sequence[Putt]:
    """Measured at 240 Hz, uncertainties not given."""
    return [
        replace(putt, measures={name: Measure(m.value, math.nan) for name, m in putt.measures.items()})
        for putt in simulate_mixed(player, rng, putts)
    ]


def at_a_hole(player: SimulatedPlayer, rng: np.random.Generator, putts: int) -> Sequence[Putt]:
    """1 to 5 m at a hole: some are holed, and their pace is not noted."""
    return simulate_putts(player, rng, [Task(mixed_lengths(rng, putts, 1.0, 5.0))], hole=True)


def in_blocks(player: SimulatedPlayer, rng: np.random.Generator, putts: int) -> Sequence[Putt]:
    """Blocks of ten, a quarter of every variance common to a block."""
    tasks = [Task(mixed_lengths(rng, 10), f"block {k}") for k in range(putts // 10)]
    return simulate_putts(replace(player, block_share=0.25), rng, tasks)


SESSIONS: tuple[tuple[str, Session], ...] = (
    ("mixed, 240 Hz", usual),
    ("mixed, no noise", exact),
    ("mixed, 240 Hz, uncertainties not given", untold),
    ("at a hole, 240 Hz", at_a_hole),
    ("blocks of ten alike in themselves, 240 Hz", in_blocks),
)


def run(session: Session, putts: int, players: int, seed: int) -> Tally:
    """So many players, each with one session of that kind."""
    rng, tally = np.random.default_rng(seed), Tally()
    for _ in range(players):
        player = draw(rng)
        tally.add(player, session(player, rng, putts))
    return tally


def main_table() -> list[str]:
    """Coverage and error for each kind of session."""
    rows = [
        "| putts noted | players | putts each | truth inside the 90 % interval | by cause "
        "| mean absolute error, points | absent cause: mean share | absent: 95th percentile | enough |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for k, (name, session) in enumerate(SESSIONS):
        for putts in (30, 100):
            players = PLAYERS if k == 0 else PLAYERS // 3
            print(f"{name}, {putts} putts …", flush=True)
            tally = run(session, putts, players, seed=100 * k + putts)
            inside, errors = np.array(tally.inside), 100.0 * np.abs(np.array(tally.errors))
            by_cause = " / ".join(f"{100 * share:.0f}" for share in inside.mean(axis=0))
            absent = 100.0 * np.array(tally.absent)
            rows.append(
                f"| {name} | {len(tally.errors)} | {putts} | {100 * inside.mean():.1f} % | {by_cause} "
                f"| {errors.mean():.1f} | {absent.mean():.1f} % | {np.percentile(absent, 95):.1f} % "
                f"| {100 * np.mean(tally.enough):.0f} % |"
            )
    return rows


def shrinkage_table() -> list[str]:
    """Mean absolute error for each strength of drawing chance couplings towards none."""
    strengths = (0.0, 1.0, 2.0, 3.0, 4.0)
    rows = [
        f"| players | putts each | {' | '.join(f'{strength:g}' for strength in strengths)} |",
        f"|---|---|{'---|' * len(strengths)}",
    ]
    for name, coupled in (("independent terms", 0.0), ("coupled terms", 1.0)):
        for putts in (30, 100):
            errors = []
            for strength in strengths:
                rng, tally = np.random.default_rng(putts), Tally()
                with mock.patch.object(share_fit, "SHRINKAGE", strength):
                    for _ in range(PLAYERS // 4):
                        player = draw(rng, coupled=coupled)
                        tally.add(player, usual(player, rng, putts))
                errors.append(100.0 * np.abs(tally.errors).mean())
            rows.append(f"| {name} | {putts} | {' | '.join(f'{error:.1f}' for error in errors)} |")
    return rows


def tour_table() -> list[str]:
    """The simulated tour player against published holing and expected putts."""
    player, plain = TOUR_PLAYER, replace(TOUR_PLAYER, aim_past_share=0.0)
    rows = ["| feet | holed, counts | holed, simulated |", "|---|---|---|"]
    rows += [
        f"| {feet:g} | {100 * share:.1f} % | {100 * first_putt_holed(feet * FOOT_M, player):.1f} % |"
        for feet, share in TOUR_HOLED
    ]
    lengths_m = [feet * FOOT_M for feet in PUTTS_OF_TABLE]
    both = zip(expected_putts(lengths_m, player), expected_putts(lengths_m, plain), strict=True)
    rows += ["", "| feet | expected putts, table | simulated | aiming 1 ft past from everywhere |"]
    rows += ["|---|---|---|---|"]
    rows += [
        f"| {feet} | {putts:.3f} | {ours:.3f} | {short:.3f} |"
        for (feet, putts), (ours, short) in zip(PUTTS_OF_TABLE.items(), both, strict=True)
    ]
    return rows


def main() -> int:
    """Run everything and rewrite the page."""
    lines = [
        "# Validation: error budget against known causes",
        "",
        "Made by `python -m validation.budget` (seeded). Players: `src/pacewright/simulate/players.py`;"
        " spreads, couplings,",
        "biases and dependence on length are drawn anew for each, and one in four lacks one cause of the"
        " stroke. The order",
        "by cause is stroke length, timing, shape, strike, green and judgement.",
        "",
        *main_table(),
        "",
        "## How strongly chance couplings are drawn towards none",
        "",
        "Mean absolute error of the shares in points, by the strength (`SHRINKAGE`; 2 is used).",
        "",
        *shrinkage_table(),
        "",
        "## A simulated tour player",
        "",
        "Spread of distance 8 %, of direction 1.02°, aim 1 ft past and 5 % past beyond 20 ft, against",
        "Broadie's counts and the table after him. "
        "The same player rolls the ball in [physics](validation-physics.md).",
        "",
        *tour_table(),
    ]
    OUTPUT.write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(f"written: {OUTPUT.name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
