"""Players whose causes of distance error are known: seeded, documented, for demo, tests and validation.

A putt of ``asked_m`` rolls ``asked_m · exp(bias + trends + sum of the terms)``. The terms are the five causes
of the error budget, each normal, in units of log roll-out, so an SD of 0.04 moves the ball by 4 % of the
distance:

- ``length``: 2·log of backswing length over the intended one
- ``timing``: −2·log of downswing time over the intended one
- ``shape``: 2·log of (head speed · time / length) over the player's constant: how it was speeded up
- ``strike``: 2·log of ball over head speed, over the player's ratio
- ``green`` and ``judgement``: the surface, and reading the distance (absent in repeated putts of one length)

``correlation`` couples the first four and judgement. The quantities follow from the terms exactly; what is
noted of them carries `MeasurementNoise`. Page: docs/methods/error-budget.md.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pacewright.core.errors import SimulationError
from pacewright.core.measure import Measure
from pacewright.core.outcome import Outcome, Putt

FloatArray = NDArray[np.float64]

CAUSES = ("length", "timing", "shape", "strike", "judgement", "green")
"""The terms that are drawn. In the budget the last two are one share, ``green_and_judgement``."""

_QUANTITIES = ("backswing_length_m", "downswing_time_s", "impact_speed_m_s", "ball_speed_m_s")


@dataclass(frozen=True, slots=True)
class MeasurementNoise:
    """Standard uncertainty of what is noted; speeds as a share.

    The defaults are the rms errors of this tool at 240 Hz and 0.15 mm of noise (docs/validation-strokes.md),
    with the ball's speed as good as the head's, and a tape for the finish.
    """

    backswing_length_m: float = 0.0010
    downswing_time_s: float = 0.0034
    impact_speed_share: float = 0.0075
    ball_speed_share: float = 0.0075
    finish_m: float = 0.01

    @staticmethod
    def none() -> MeasurementNoise:
        """Everything noted as it was."""
        return MeasurementNoise(0.0, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class SimulatedPlayer:
    """A player. The ``..._sd`` are SDs of the terms of log roll-out (see the module).

    ``correlation`` maps pairs of causes to their correlation. Downswing time follows asked^``time_exponent``
    and the constant asked^``shape_exponent``; both are 0 for most of the trade's teaching.
    ``bias`` is the mean log error, ``bias_slope`` its change with log asked length (long putts left short:
    below 0). ``warm_up`` is the log error of the first putt, halved every ``warm_up_putts``; ``trend`` is the
    change from first to last putt. ``best_beat`` and ``beat_cost``: all terms of the stroke grow by
    exp(cost·((beat − best)/10)²). With ``judgement_in_stroke`` a misread distance changes the backswing, as
    in people who swing for what they believe to see; else it is left in the rest, where no measured quantity
    shows it. ``block_share`` of the variance of every term is common to the putts of a block. ``feel`` is the
    correlation of guessed with true error, ``guess_sd`` the SD of the guessed
    error. ``line_sd_rad`` spreads the direction.
    """

    length_sd: float = 0.04
    timing_sd: float = 0.04
    shape_sd: float = 0.03
    strike_sd: float = 0.02
    judgement_sd: float = 0.05
    green_sd: float = 0.025
    correlation: Mapping[tuple[str, str], float] = field(default_factory=dict)
    swing_constant: float = 1.6
    downswing_time_s: float = 0.31
    ball_speed_ratio: float = 1.59
    deceleration_m_s2: float = 0.549
    time_exponent: float = 0.0
    shape_exponent: float = 0.0
    bias: float = 0.0
    bias_slope: float = 0.0
    warm_up: float = 0.0
    warm_up_putts: float = 3.0
    trend: float = 0.0
    best_beat: float | None = None
    beat_cost: float = 0.0
    judgement_in_stroke: bool = False
    block_share: float = 0.0
    feel: float = 0.6
    guess_sd: float = 0.06
    line_sd_rad: float = math.radians(1.3)

    def sds(self, *, repeated: bool = False, beats_per_minute: float | None = None) -> FloatArray:
        """SDs of the terms in the order of `CAUSES`, (6,)."""
        growth = 1.0
        if self.best_beat is not None and beats_per_minute is not None:
            growth = math.exp(self.beat_cost * ((beats_per_minute - self.best_beat) / 10.0) ** 2)
        stroke = growth * np.array([self.length_sd, self.timing_sd, self.shape_sd, self.strike_sd])
        judgement = 0.0 if repeated else self.judgement_sd
        return np.concatenate([stroke, [judgement, self.green_sd]])

    def covariance(self, *, repeated: bool = False, beats_per_minute: float | None = None) -> FloatArray:
        """Covariance of the terms in the order of `CAUSES`, (6, 6).

        Raises SimulationError for correlations that cannot be together.
        """
        matrix = np.eye(len(CAUSES))
        for (one, other), value in self.correlation.items():
            i, j = CAUSES.index(one), CAUSES.index(other)
            matrix[i, j] = matrix[j, i] = value
        if float(np.linalg.eigvalsh(matrix).min()) < -1e-9:
            raise SimulationError("These correlations of a player's terms cannot be together.")
        sds = self.sds(repeated=repeated, beats_per_minute=beats_per_minute)
        return np.asarray(matrix * np.outer(sds, sds))

    def true_shares(self) -> dict[str, float]:
        """Shares of the variance of log roll-out in mixed putts, adding to 1, by the names of the budget.

        Each is the covariance of the term with the total over the variance of the total.
        """
        shares = self.covariance().sum(axis=1) / self.covariance().sum()
        named = dict(zip(CAUSES, (float(share) for share in shares), strict=True))
        judgement = named.pop("judgement")
        named["green_and_judgement"] = named.pop("green")
        named["length" if self.judgement_in_stroke else "green_and_judgement"] += judgement
        return named

    def true_spread(self, *, repeated: bool = False, beats_per_minute: float | None = None) -> float:
        """SD of log roll-out, trends apart."""
        return math.sqrt(self.covariance(repeated=repeated, beats_per_minute=beats_per_minute).sum())


@dataclass(frozen=True, slots=True)
class Task:
    """What is asked: a length for each putt, under one block label.

    ``repeated`` blocks have one length, and no judgement in them. ``beats_per_minute`` sets a beat.
    """

    asked_m: tuple[float, ...]
    block: str = ""
    repeated: bool = False
    beats_per_minute: float | None = None
    comfort: float | None = None
    session: str = ""
    phase: str = ""


def mixed_lengths(
    rng: np.random.Generator, putts: int, low_m: float = 2.0, high_m: float = 12.0
) -> tuple[float, ...]:
    """Lengths drawn evenly in their logarithm, to the decimetre."""
    drawn = np.exp(rng.uniform(math.log(low_m), math.log(high_m), putts))
    return tuple(float(length) for length in np.round(drawn, 1))


def simulate_putts(
    player: SimulatedPlayer,
    rng: np.random.Generator,
    tasks: Sequence[Task],
    *,
    noise: MeasurementNoise | None = None,
    hole: bool = False,
) -> list[Putt]:
    """Putts of ``player`` through ``tasks`` in order. Trends run over all of them together.

    With ``hole`` a putt that passes over the hole slowly enough is holed, and its pace is not noted.
    """
    noise = noise or MeasurementNoise()
    total = sum(len(task.asked_m) for task in tasks)
    putts: list[Putt] = []
    for task in tasks:
        first = len(putts)
        putts.extend(_block(player, rng, task, noise, hole, first, total))
    return putts


def simulate_mixed(
    player: SimulatedPlayer, rng: np.random.Generator, putts: int, *, noise: MeasurementNoise | None = None
) -> list[Putt]:
    """One block of ``putts`` putts of lengths from 2 to 12 m."""
    return simulate_putts(player, rng, [Task(mixed_lengths(rng, putts), "mixed")], noise=noise)


def _block(
    player: SimulatedPlayer, rng: np.random.Generator, task: Task, noise: MeasurementNoise, hole: bool,
    first: int, total: int,
) -> list[Putt]:  # fmt: skip
    asked = np.array(task.asked_m)
    covariance = player.covariance(repeated=task.repeated, beats_per_minute=task.beats_per_minute)
    terms = rng.multivariate_normal(np.zeros(len(CAUSES)), covariance, asked.size, method="eigh")
    if player.block_share > 0.0:
        common = rng.multivariate_normal(np.zeros(len(CAUSES)), covariance, method="eigh")
        terms = math.sqrt(1.0 - player.block_share) * terms + math.sqrt(player.block_share) * common
    index = first + np.arange(asked.size)
    drift = player.warm_up * 0.5 ** (index / player.warm_up_putts) + player.trend * index / max(total - 1, 1)
    intended = player.bias + player.bias_slope * np.log(asked / 5.0) + drift
    roll_out = asked * np.exp(intended + terms.sum(axis=1))
    across = roll_out * rng.normal(0.0, player.line_sd_rad, asked.size)
    seen = np.exp(terms[:, 4]) if player.judgement_in_stroke else 1.0
    quantities = _quantities(player, asked * np.exp(intended) * seen, terms)
    noted, sds = _noted(quantities, rng, noise)
    guess = _guesses(player, rng, asked, roll_out)
    along = roll_out + rng.normal(0.0, noise.finish_m, asked.size) if noise.finish_m else roll_out
    putts = []
    for k in range(asked.size):
        holed = hole and _is_holed(asked[k], roll_out[k], across[k], player.deceleration_m_s2)
        outcome = (
            Outcome(holed=True)
            if holed
            else Outcome(max(float(along[k]), 0.01), float(across[k]), False, noise.finish_m)
        )
        measures = {
            name: Measure(float(noted[k, j]), float(sds[k, j]), "simulated")
            for j, name in enumerate(_QUANTITIES)
        }
        putts.append(
            Putt(
                float(asked[k]), outcome, float(guess[k]), task.block, task.session, task.phase,
                task.beats_per_minute, task.comfort, measures,
            )
        )  # fmt: skip
    return putts


def _quantities(player: SimulatedPlayer, aim_m: FloatArray, terms: FloatArray) -> FloatArray:
    """Backswing length, downswing time, head speed and ball speed, (n, 4), by the law of the budget."""
    ball = np.sqrt(2.0 * player.deceleration_m_s2 * aim_m)
    time = player.downswing_time_s * (aim_m / 5.0) ** player.time_exponent
    constant = player.swing_constant * (aim_m / 5.0) ** player.shape_exponent
    length = ball / player.ball_speed_ratio * time / constant
    length, time = length * np.exp(terms[:, 0] / 2.0), time * np.exp(-terms[:, 1] / 2.0)
    head = constant * np.exp(terms[:, 2] / 2.0) * length / time
    return np.column_stack([length, time, head, head * player.ball_speed_ratio * np.exp(terms[:, 3] / 2.0)])


def _noted(
    quantities: FloatArray, rng: np.random.Generator, noise: MeasurementNoise
) -> tuple[FloatArray, FloatArray]:
    """What is noted of the quantities, and its standard uncertainty, both (n, 4)."""
    sds = np.empty_like(quantities)
    sds[:, 0], sds[:, 1] = noise.backswing_length_m, noise.downswing_time_s
    sds[:, 2] = noise.impact_speed_share * quantities[:, 2]
    sds[:, 3] = noise.ball_speed_share * quantities[:, 3]
    return quantities + rng.normal(0.0, 1.0, quantities.shape) * sds, sds


def _guesses(
    player: SimulatedPlayer, rng: np.random.Generator, asked: FloatArray, roll_out: FloatArray
) -> FloatArray:
    """Where the player believes the ball to be: partly felt, partly invented."""
    error = np.log(roll_out / asked)
    scale = player.true_spread()
    felt = player.feel * (error - player.bias) / scale if scale > 0.0 else 0.0 * error
    invented = math.sqrt(max(1.0 - player.feel**2, 0.0)) * rng.normal(0.0, 1.0, asked.size)
    return np.asarray(asked * np.exp(player.guess_sd * (felt + invented)))


def _is_holed(asked_m: float, roll_out_m: float, across_m: float, deceleration_m_s2: float) -> bool:
    """Penner's rule: 1.63 m/s at the centre, less by (1 − (offset/R)²) off it."""
    if roll_out_m < asked_m:
        return False
    offset = abs(across_m) * asked_m / roll_out_m / 0.054
    speed = math.sqrt(2.0 * deceleration_m_s2 * (roll_out_m - asked_m))
    return offset < 1.0 and speed <= 1.63 * (1.0 - offset**2)
