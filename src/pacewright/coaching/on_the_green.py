"""What a spread of distance costs on the course: leaves, three-putts and expected putts.

A first putt starts within the player's spread of direction and rolls out within that of distance; it is
holed when its line meets the hole and it would stop between the hole and 3 ft past (Gelman's model of
Broadie's tour counts, 2019). The next putt is holed by published chances.
Method page: docs/methods/on-the-green.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pacewright.core.equipment import BALL_RADIUS_M, HOLE_RADIUS_M
from pacewright.core.units import FOOT_M

FloatArray = NDArray[np.float64]
Holing = Literal["tour", "amateur"]

TOUR_HOLED: tuple[tuple[float, float], ...] = (
    (2.92, 0.963), (3.93, 0.877), (4.94, 0.766), (5.94, 0.656), (7.95, 0.499), (9.95, 0.386),
    (14.43, 0.238), (20.44, 0.144), (28.4, 0.078), (40.4, 0.041), (57.3, 0.023),
)  # fmt: skip
"""Feet, and share of tour putts holed: Broadie's counts, published with Gelman's case study (2018–19)."""
HALF_HOLED_FT: dict[Holing, float] = {"tour": 7.95, "amateur": 5.0}
"""Where half are holed: the tour by the counts above; 5 ft for players who score in the 90s (Broadie 2014, at
second hand). An amateur's chances are taken as the tour's at a length longer by that ratio."""
AIM_PAST_M = 1.0 * FOOT_M
CAPTURED_PAST_M = 3.0 * FOOT_M
"""Aim 1 ft past the hole, taken up to 3 ft past: Gelman 2019."""
FIRM_SHARE = 0.05
"""The tour's aim past on long putts: 1 ft at 20 ft leaves 28 % short, and 5 % of the length keeps that share
beyond. Chosen with the table of expected putts in view."""
LINE_SD_RAD: dict[Holing, float] = {"tour": 0.0178, "amateur": math.radians(1.75)}
"""Spread of direction, for players whose line was not noted: 1.02° fits the tour counts (Gelman 2019, from
memory), 1.75° holes half of 5-ft putts (derived)."""
OUTSIDE_M = 3.0 * FOOT_M

FIRST_PUTTS: tuple[tuple[float, float], ...] = tuple(
    (feet * FOOT_M, count)
    for feet, count in ((3, 1), (5, 2), (8, 2), (12, 2), (15, 2), (20, 3), (25, 2), (30, 2), (40, 1), (50, 1))
)
"""First putts of a round of 18, metres and how many: our choice, to be replaced by the player's own."""

CELLS = 20
COARSE_CELLS = 8
"""Cells a side in each part of the distances and of the directions; fewer where only means are wanted."""
MOST_ROUNDS = 60


@dataclass(frozen=True, slots=True)
class Putting:
    """How a player putts: ``log_spread`` and ``log_bias`` of roll-out over the length meant, spread of
    direction ``line_sd_rad``, whose chances hold for the next putt, and the aim past the hole:
    ``aim_past_m``, or ``aim_past_share`` of the length where that is more."""

    log_spread: float
    line_sd_rad: float
    log_bias: float = 0.0
    aim_past_m: float = AIM_PAST_M
    holing: Holing = "amateur"
    aim_past_share: float = 0.0


TOUR_PLAYER = Putting(0.08, LINE_SD_RAD["tour"], holing="tour", aim_past_share=FIRM_SHARE)
"""The one simulated tour player. Spread of distance 8 %: Gelman 2019, read."""


@dataclass(frozen=True, slots=True)
class RoundOutcome:
    """Of the first putts of a round: expected number left outside 3 ft, of three-putts, and of all putts."""

    first_putts: float
    left_outside: float
    three_putts: float
    putts: float


def holed_share(distance_m: FloatArray | float, holing: Holing = "tour") -> FloatArray:
    """Chance of holing from each distance, by the published counts (linear in log-odds over log distance)."""
    feet = np.array([row[0] for row in TOUR_HOLED])
    odds = np.array([math.log(share / (1.0 - share)) for _, share in TOUR_HOLED])
    stretch = HALF_HOLED_FT["tour"] / HALF_HOLED_FT[holing]
    x = np.log(np.maximum(np.asarray(distance_m, dtype=float), 0.01) / FOOT_M * stretch)
    log_feet = np.log(feet)
    inside = np.interp(x, log_feet, odds)
    # Beyond the counts at both ends the last slope goes on.
    near = (odds[1] - odds[0]) / (log_feet[1] - log_feet[0])
    far = (odds[-1] - odds[-2]) / (log_feet[-1] - log_feet[-2])
    inside = np.where(x < log_feet[0], odds[0] + near * (x - log_feet[0]), inside)
    inside = np.where(x > log_feet[-1], odds[-1] + far * (x - log_feet[-1]), inside)
    return np.asarray(1.0 / (1.0 + np.exp(-inside)))


@dataclass(frozen=True, slots=True)
class _Leaves:
    """Where putts of one length stop: chance that it is holed, and of each distance ``left_m`` (n,)."""

    holed: float
    chance: FloatArray
    left_m: FloatArray


def first_putt_holed(length_m: float, player: Putting) -> float:
    """Chance that a putt of that length is holed."""
    return _leaves(length_m, player).holed


def round_outcome(player: Putting, first_putts: Sequence[tuple[float, float]] = FIRST_PUTTS) -> RoundOutcome:
    """Expected leaves, three-putts and putts over ``first_putts``, each (length in m, how many)."""
    outside = three = 0.0
    for length_m, count in first_putts:
        leaves = _leaves(length_m, player)
        outside += count * float(leaves.chance[leaves.left_m > OUTSIDE_M].sum())
        three += count * float(leaves.chance @ (1.0 - holed_share(leaves.left_m, player.holing)))
    each = expected_putts([length for length, _ in first_putts], player)
    putts = sum(count * expected for (_, count), expected in zip(first_putts, each, strict=True))
    return RoundOutcome(sum(count for _, count in first_putts), outside, three, putts)


def expected_putts(lengths_m: Sequence[float], player: Putting) -> tuple[float, ...]:
    """Expected putts to hole out from each length, every putt by the player's own spreads."""
    lattice = np.geomspace(0.05, max(*lengths_m, 1.0) * 1.6, 30)
    leaves = [_leaves(float(length), player, COARSE_CELLS) for length in lattice]
    putts = np.full(lattice.size, 2.0)
    for _ in range(MOST_ROUNDS):
        last, putts = putts, np.array([_one_more(one, lattice, putts) for one in leaves])
        if float(np.abs(putts - last).max()) < 1e-7:
            break
    return tuple(_one_more(_leaves(length, player), lattice, putts) for length in lengths_m)


def _one_more(leaves: _Leaves, lattice: FloatArray, putts: FloatArray) -> float:
    """This putt, and the putts from where it leaves the ball."""
    return 1.0 + float(leaves.chance @ np.interp(leaves.left_m, lattice, putts))


def _leaves(length_m: float, player: Putting, cells: int = CELLS) -> _Leaves:
    """Cells of distance (short, taken by the hole if on line, past) and of direction (on line, off it)."""
    from scipy.special import ndtr, ndtri

    aim_past_m = max(player.aim_past_m, player.aim_past_share * length_m)
    middle = math.log(length_m + aim_past_m) + player.log_bias
    spread = max(player.log_spread, 1e-6)
    ends = np.log([length_m, length_m + CAPTURED_PAST_M])
    cuts = np.concatenate([[0.0], ndtr((ends - middle) / spread), [1.0]])
    half_hole = math.asin(min((HOLE_RADIUS_M - BALL_RADIUS_M) / length_m, 1.0))
    line_sd = max(player.line_sd_rad, 1e-6)
    on_line = math.erf(half_hole / line_sd / math.sqrt(2.0))
    sides = np.array([0.5, 0.5 + on_line / 2.0, 1.0])
    nodes = (np.arange(cells) + 0.5) / cells
    chance, left = [], []
    for k in range(3):
        along = np.exp(middle + spread * ndtri(_inside(cuts[k], cuts[k + 1], nodes)))
        for side in range(2):
            if (k, side) == (1, 0):
                continue
            angle = line_sd * ndtri(_inside(sides[side], sides[side + 1], nodes))
            mass = (cuts[k + 1] - cuts[k]) * 2.0 * (sides[side + 1] - sides[side])
            chance.append(np.full(cells**2, mass / cells**2))
            across = along[:, None] * np.sin(angle)
            left.append(np.hypot(along[:, None] * np.cos(angle) - length_m, across).ravel())
    holed = float(cuts[2] - cuts[1]) * on_line
    return _Leaves(holed, np.concatenate(chance), np.concatenate(left))


def _inside(low: float, high: float, nodes: FloatArray) -> FloatArray:
    """Middle of equal parts of the probability between ``low`` and ``high``, kept off 0 and 1."""
    return np.clip(low + (high - low) * nodes, 1e-12, 1.0 - 1e-12)
