"""Which beat gives this player the smallest spread of distance.

The log of the spread is a shallow valley over the beat, the same for all blocks, and each block strays
from it by luck, by how the player is that day, and by the order of the blocks. The lowest point has a
posterior on a grid. Blocks lend each other strength through the valley, so the choice does not run after
the one lucky block. Numbers in, decisions out. Method page: docs/methods/tempo-search.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pacewright.coaching.outcomes import arrays, sd_interval
from pacewright.coaching.session_fit import LEAST_PUTTS, fit_session, log_errors
from pacewright.core.errors import QualityError
from pacewright.core.outcome import Putt

FloatArray = NDArray[np.float64]
TempoVerdict = Literal["settled", "keep going", "cannot be told apart"]

START_BEATS = 90.0
"""A beat rate to start from (common practice, no source)."""
START_SD = 15.0
COMFORT_SD = 12.0
"""How far the best beat may lie from the most comfortable one (our choice; no trial found)."""
VALLEY_MEDIAN = 0.06
"""Rise of the log spread ten beats off the best one: 6 %, and four times that at twenty (our choice)."""
VALLEY_LOG_SD = 1.0
BLOCK_SDS = (0.05, 0.1, 0.2)
"""How far one block's log spread strays from the valley for reasons of its own (our choice)."""
LEVEL_SD = 0.7
ORDER_SD = 0.05
"""Change of the log spread from one block to the next by learning or tiring (our choice)."""
SLOWEST_BEATS, FASTEST_BEATS = 56.0, 124.0
"""The best beat may lie anywhere from here to there, and further where beats further out were tried."""
NEAR_BEATS = 4.0
"""Beats this close are taken as the same: the answer counts as right within them."""
SETTLED_CHANCE = 0.8
SEEN_CHANCE = 0.6
"""Chance that the beat matters at all from which the search is worth going on (even odds beforehand)."""
AS_GOOD = 0.10
"""A spread within 10 % of the best is as good: not worth a change of beat."""
LEAST_BEATS_TRIED = 3
"""Two beats show a difference, not a lowest point."""
FARTHEST_STEP = 8.0
"""The next beat lies at most this far outside those already tried, and within `FARTHEST_FROM_PICK`."""
FARTHEST_FROM_PICK = 20.0


@dataclass(frozen=True, slots=True)
class TempoBlock:
    """A block at one beat: ``asked_m`` and ``finish_along_m`` (n,), ``comfort`` 1–5 or nan."""

    beats_per_minute: float
    asked_m: FloatArray
    finish_along_m: FloatArray
    comfort: float = math.nan


def blocks_of(putts: Sequence[Putt]) -> list[TempoBlock]:
    """Blocks of putts at one beat, in the order played; putts without a beat are left out.

    A run of putts at one beat is a block; where the beats were mixed from putt to putt (a run under three
    putts), all putts at a beat are one.
    """
    timed = [putt for putt in putts if putt.beats_per_minute is not None]
    runs = [list(run) for _, run in groupby(timed, key=lambda putt: (putt.beats_per_minute, putt.block))]
    if any(len(run) < LEAST_PUTTS for run in runs):
        in_order = dict.fromkeys(putt.beats_per_minute for putt in timed)
        runs = [[putt for putt in timed if putt.beats_per_minute == beat] for beat in in_order]
    return [_block(run) for run in runs]


def _block(putts: Sequence[Putt]) -> TempoBlock:
    data = arrays(putts)
    marks = [putt.comfort for putt in putts if putt.comfort is not None]
    comfort = sum(marks) / len(marks) if marks else math.nan
    return TempoBlock(
        float(putts[0].beats_per_minute or math.nan), data.asked_m, data.finish_along_m, comfort
    )


@dataclass(frozen=True, slots=True)
class BeatResult:
    """What one beat showed: putts, spread as a share of the distance with its 90 % interval from this beat
    alone, mean comfort (nan without), and the chance that the best beat lies within four beats of it."""

    beats_per_minute: float
    putts: int
    spread_share: float
    spread_low: float
    spread_high: float
    comfort: float
    probability_best: float


@dataclass(frozen=True, slots=True)
class TempoChoice:
    """The beat to use and how sure it is.

    ``probability_best`` is the chance that the best beat lies within four beats of ``beats_per_minute``;
    ``matters_chance`` the chance that the beat matters at all (even odds beforehand); ``cost_ten_beats`` the
    share by which the spread grows ten beats off the best, with its 90 % interval, if it does.
    ``by_comfort`` says that comfort decided.
    """

    beats_per_minute: float
    probability_best: float
    next_beats_per_minute: float
    verdict: TempoVerdict
    matters_chance: float
    cost_ten_beats: tuple[float, float, float]
    by_comfort: bool
    putts: int
    beats: tuple[BeatResult, ...]


@dataclass(frozen=True, slots=True)
class _Data:
    """Blocks as the model sees them: all (j,): beat, unbiased log spread, its variance, order."""

    beats: FloatArray
    log_spread: FloatArray
    variance: FloatArray
    order: FloatArray


@dataclass(frozen=True, slots=True)
class _Posterior:
    """Weights (b, v, t) over best beat ``best`` (b,), valley ``rise`` (v,) and block SD (t,).

    ``evidence`` is the Bayes factor of a valley against no effect of the beat.
    """

    best: FloatArray
    rise: FloatArray
    weights: FloatArray
    evidence: float

    def chance_near(self, beat: float) -> float:
        """Chance that the best beat lies within `NEAR_BEATS` of ``beat``."""
        return float(self.weights.sum(axis=(1, 2))[np.abs(self.best - beat) <= NEAR_BEATS].sum())


def search_tempo(blocks: Sequence[TempoBlock]) -> TempoChoice:
    """Choose a beat from the blocks, in the order played. Raises QualityError when a block is too short."""
    if not blocks:
        raise QualityError("There are no blocks to compare; give putts at two or more beats.")
    data = _summarise(blocks)
    posterior = _posterior(data, *_prior_centre(blocks))
    tried = sorted({block.beats_per_minute for block in blocks})
    matters = posterior.evidence / (1.0 + posterior.evidence)
    likeliest = _likeliest(posterior, data.beats)
    verdict = _verdict(posterior.chance_near(likeliest), matters, blocks)
    beat, by_comfort = likeliest, False
    if verdict == "cannot be told apart":
        beat, by_comfort = _by_comfort(posterior, blocks, likeliest)
    following = beat if verdict == "settled" else _next_beat(posterior, data, blocks, likeliest)
    return TempoChoice(
        beats_per_minute=beat,
        probability_best=posterior.chance_near(beat),
        next_beats_per_minute=following,
        verdict=verdict,
        matters_chance=matters,
        cost_ten_beats=_cost_ten_beats(posterior),
        by_comfort=by_comfort,
        putts=sum(block.asked_m.size for block in blocks),
        beats=tuple(_beat_result(beat, blocks, posterior) for beat in tried),
    )


def _summarise(blocks: Sequence[TempoBlock]) -> _Data:
    """Log spread of each block, freed of its bias, with its sampling variance (log χ²)."""
    from scipy.special import polygamma, psi

    beats, logs, freedoms = [], [], []
    for block in blocks:
        name = f"block at {block.beats_per_minute:g} beats a minute"
        fit = fit_session(block.asked_m, log_errors(block.asked_m, block.finish_along_m), name)
        beats.append(block.beats_per_minute)
        logs.append(math.log(fit.spread))
        freedoms.append(fit.freedom)
    half = np.array(freedoms, dtype=float) / 2.0
    bias = 0.5 * (psi(half) - np.log(half))
    order = np.arange(len(blocks), dtype=np.float64) - 0.5 * (len(blocks) - 1)
    variance = np.asarray(0.25 * polygamma(1, half), dtype=np.float64)
    return _Data(np.array(beats, dtype=float), np.array(logs) - bias, variance, order)


def _prior_centre(blocks: Sequence[TempoBlock]) -> tuple[float, float]:
    """Mean and SD of the best beat before the spreads are seen: 90, drawn towards comfort."""
    comfort = np.array([block.comfort for block in blocks])
    beats = np.array([block.beats_per_minute for block in blocks])
    known = np.isfinite(comfort)
    if not known.any() or float(np.ptp(comfort[known])) == 0.0:
        return START_BEATS, START_SD
    weight = comfort[known] - comfort[known].min()
    felt = float(np.average(beats[known], weights=weight))
    precision = np.array([START_SD**-2, COMFORT_SD**-2])
    mean = float(precision @ [START_BEATS, felt]) / float(precision.sum())
    return mean, float(precision.sum()) ** -0.5


def _posterior(data: _Data, centre: float, centre_sd: float) -> _Posterior:
    low = math.floor(min(data.beats.min() - FARTHEST_STEP, SLOWEST_BEATS))
    high = math.ceil(max(data.beats.max() + FARTHEST_STEP, FASTEST_BEATS))
    best = np.arange(low, high + 1.0)
    rise = np.geomspace(0.005, 0.7, 10)
    log_prior = (-0.5 * ((best - centre) / centre_sd) ** 2)[:, None]
    log_prior = log_prior + (-0.5 * (np.log(rise / VALLEY_MEDIAN) / VALLEY_LOG_SD) ** 2)[None, :]
    prior = np.exp(log_prior) / np.exp(log_prior).sum()
    valley = _valley(best, rise, data.beats)
    level = np.zeros((1, 1, data.beats.size))
    likelihood = np.stack([_log_likelihood(data, valley, sd) for sd in BLOCK_SDS], axis=-1)
    without = np.stack([_log_likelihood(data, level, sd) for sd in BLOCK_SDS], axis=-1)
    top = max(float(likelihood.max()), float(without.max()))
    weights = prior[:, :, None] * np.exp(likelihood - top) / len(BLOCK_SDS)
    total = float(weights.sum())
    evidence = total / max(float(np.exp(without - top).mean()), 1e-300)
    return _Posterior(best, rise, weights / total, evidence)


def _valley(best: FloatArray, rise: FloatArray, beats: FloatArray) -> FloatArray:
    """Log spread above the lowest point, (b, v, j)."""
    apart = (beats[None, :] - best[:, None]) / 10.0
    return np.asarray(rise[None, :, None] * apart[:, None, :] ** 2)


def _covariance(data: _Data, block_sd: float) -> FloatArray:
    """Covariance of the log spreads about the valley: luck, the block, the player's level, the order."""
    return np.asarray(
        np.diag(data.variance + block_sd**2) + LEVEL_SD**2 + ORDER_SD**2 * np.outer(data.order, data.order)
    )


def _log_likelihood(data: _Data, valley: FloatArray, block_sd: float) -> FloatArray:
    """Normal log likelihood (b, v) of the log spreads, level and order integrated out."""
    covariance = _covariance(data, block_sd)
    residual = data.log_spread - math.log(0.1) - valley
    solved = residual @ np.linalg.inv(covariance)
    _, log_determinant = np.linalg.slogdet(covariance)
    return np.asarray(-0.5 * (np.sum(solved * residual, axis=-1) + log_determinant))


def _likeliest(posterior: _Posterior, tried: FloatArray) -> float:
    """The beat with most posterior within `NEAR_BEATS` of it, not far outside those tried."""
    inside = (posterior.best >= tried.min() - FARTHEST_STEP) & (posterior.best <= tried.max() + FARTHEST_STEP)
    near = posterior.best[inside]
    mass = np.array([posterior.chance_near(beat) for beat in near])
    return float(np.median(near[mass >= mass.max() - 1e-12]))


def _cost_ten_beats(posterior: _Posterior) -> tuple[float, float, float]:
    """Median and 90 % interval of the share by which the spread grows ten beats off the best."""
    total = np.cumsum(posterior.weights.sum(axis=(0, 2)))
    median, low, high = np.interp([0.5, 0.05, 0.95], total, np.expm1(posterior.rise))
    return float(median), float(low), float(high)


def _verdict(near: float, matters: float, blocks: Sequence[TempoBlock]) -> TempoVerdict:
    tried = len({block.beats_per_minute for block in blocks})
    if tried == 1:
        return "keep going"
    if matters < SEEN_CHANCE:
        return "cannot be told apart"
    return "settled" if near >= SETTLED_CHANCE and tried >= LEAST_BEATS_TRIED else "keep going"


def _by_comfort(posterior: _Posterior, blocks: Sequence[TempoBlock], likeliest: float) -> tuple[float, bool]:
    """The most comfortable beat among those that may well be within 10 % of the best."""
    rated: dict[float, list[float]] = {}
    for block in blocks:
        if math.isfinite(block.comfort):
            rated.setdefault(block.beats_per_minute, []).append(block.comfort)
    fair = {
        beat: sum(marks) / len(marks)
        for beat, marks in rated.items()
        if _chance_as_good(posterior, beat) >= 0.5
    }
    if not fair:
        return likeliest, False
    return max(fair, key=lambda beat: (fair[beat], -abs(beat - likeliest))), True


def _chance_as_good(posterior: _Posterior, beat: float) -> float:
    """Chance that the spread at ``beat`` is within 10 % of that at the best beat."""
    excess = np.expm1(_valley(posterior.best, posterior.rise, np.array([beat]))[:, :, 0])
    return float(posterior.weights.sum(axis=2)[excess <= AS_GOOD].sum())


def _next_beat(posterior: _Posterior, data: _Data, blocks: Sequence[TempoBlock], likeliest: float) -> float:
    """The beat whose next block is expected to tell most about where the best one lies.

    Mutual information between that block's log spread and the best beat (b), from the normal predictive
    distribution of each hypothesis. The block is as long as the middle one so far.
    """
    from scipy.special import polygamma

    putts = float(np.median([block.asked_m.size for block in blocks]))
    luck = 0.25 * float(polygamma(1, max(putts - 1.0, 1.0) / 2.0))
    tried = data.beats
    low = max(likeliest - FARTHEST_FROM_PICK, tried.min() - FARTHEST_STEP)
    high = min(likeliest + FARTHEST_FROM_PICK, tried.max() + FARTHEST_STEP)
    candidates = np.arange(math.ceil(low / 2.0) * 2.0, high + 0.5, NEAR_BEATS)
    coarse = _every_other_beat(posterior)
    told = [_information(coarse, data, beat, luck) for beat in candidates]
    return float(candidates[int(np.argmax(told))])


def _every_other_beat(posterior: _Posterior) -> _Posterior:
    """A grid of two beats is enough to ask where the next block tells most."""
    weights = posterior.weights[::2]
    return _Posterior(posterior.best[::2], posterior.rise, weights / weights.sum(), posterior.evidence)


def _information(posterior: _Posterior, data: _Data, beat: float, luck: float) -> float:
    means, sds = _predictive(posterior, data, beat, luck)
    middle = float(np.sum(posterior.weights * means))
    reach = 4.0 * math.sqrt(float(np.sum(posterior.weights * (sds**2 + (means - middle) ** 2))))
    grid = np.linspace(middle - reach, middle + reach, 33)
    density = np.exp(-0.5 * ((grid - means[..., None]) / sds[..., None]) ** 2) / sds[..., None]
    joint = np.einsum("bvt,bvty->by", posterior.weights, density)
    joint /= joint.sum()
    independent = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0, keepdims=True)
    seen = joint > 1e-15
    return float(np.sum(joint[seen] * np.log(joint[seen] / independent[seen])))


def _predictive(
    posterior: _Posterior, data: _Data, beat: float, luck: float
) -> tuple[FloatArray, FloatArray]:
    """Mean and SD (b, v, t) of the next block's log spread under each hypothesis, given the blocks so far."""
    valley = _valley(posterior.best, posterior.rise, data.beats)
    at_beat = _valley(posterior.best, posterior.rise, np.array([beat]))[:, :, 0]
    means = np.empty(posterior.weights.shape)
    sds = np.empty(posterior.weights.shape)
    order = data.order[-1] + 1.0
    shared = LEVEL_SD**2 + ORDER_SD**2 * order * data.order
    for t, block_sd in enumerate(BLOCK_SDS):
        gain = np.linalg.solve(_covariance(data, block_sd), shared)
        residual = data.log_spread - math.log(0.1) - valley
        means[:, :, t] = math.log(0.1) + at_beat + residual @ gain
        own = luck + block_sd**2 + LEVEL_SD**2 + (ORDER_SD * order) ** 2
        sds[:, :, t] = math.sqrt(own - float(shared @ gain))
    return means, sds


def _beat_result(beat: float, blocks: Sequence[TempoBlock], posterior: _Posterior) -> BeatResult:
    mine = [block for block in blocks if block.beats_per_minute == beat]
    squares = freedom = 0.0
    for block in mine:
        fit = fit_session(block.asked_m, log_errors(block.asked_m, block.finish_along_m))
        squares += fit.freedom * fit.spread**2
        freedom += fit.freedom
    spread = math.sqrt(squares / freedom)
    low, high = sd_interval(spread, freedom)
    marks = [block.comfort for block in mine if math.isfinite(block.comfort)]
    return BeatResult(
        beats_per_minute=beat,
        putts=sum(block.asked_m.size for block in mine),
        spread_share=spread,
        spread_low=low,
        spread_high=high,
        comfort=sum(marks) / len(marks) if marks else math.nan,
        probability_best=posterior.chance_near(beat),
    )
