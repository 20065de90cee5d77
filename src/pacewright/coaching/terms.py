"""The terms of log roll-out: what each putt's stroke, strike and green added to the distance.

log roll-out = 2·log a − 2·log T + 2·log(v·T/a) + 2·log(b/v) + (log roll-out − 2·log b)

with backswing length a, downswing time T, head speed v and ball speed b. These are stroke length, timing,
shape, strike and the rest, which is −log(2·deceleration) of the green, judgement and all else. The sum is an
identity, so the variance splits exactly. Where a quantity was not measured, the two terms that hold it are
taken together.
Method page: docs/methods/error-budget.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.coaching.outcomes import CAPTURED_AT_MOST_PAST_M, arrays, measure_arrays
from pacewright.core.outcome import Putt

FloatArray = NDArray[np.float64]

CAUSES = ("length", "timing", "shape", "strike", "green_and_judgement")
QUANTITIES = ("backswing_length_m", "downswing_time_s", "impact_speed_m_s", "ball_speed_m_s")
"""In the order a, T, v, b. The finish is the fifth quantity of every table below."""

COEFFICIENTS = np.array(
    [
        [2.0, 0.0, 0.0, 0.0, 0.0],
        [0.0, -2.0, 0.0, 0.0, 0.0],
        [-2.0, 2.0, 2.0, 0.0, 0.0],
        [0.0, 0.0, -2.0, 2.0, 0.0],
        [0.0, 0.0, 0.0, -2.0, 1.0],
    ]
)
"""Terms (rows, `CAUSES`) from the logs of a, T, v, b and the finish. The columns add to 0, 0, 0, 0, 1."""

LEAST_MEASURED_SHARE = 0.6
"""A quantity counts as measured when this share of the putts has it; the others are left out."""
SAME_LENGTH_LOG = 0.05
"""Lengths asked within this range (5 %) count as one length."""


@dataclass(frozen=True, slots=True)
class Terms:
    """The terms of n putts in k groups of causes.

    ``names`` are the causes under which the groups are shown, ``merged`` maps each cause that was not
    measured apart to the one that holds it. ``values`` (n, k); their sum over k is ``log_error`` (n,),
    which is log(roll-out / asked); the last group and the sum are nan for censored putts. ``highest`` (n,) is
    the largest log error that a holed putt can hide. ``noise`` (k, k) is the
    covariance that measurement adds, ``noise_known`` whether the tables gave it. ``finish_noise`` is the
    variance of the finish. ``design`` (n, p) is what was meant: a constant, and the length where it varies.
    ``kept`` (n,) are the places of these putts among those given.
    """

    names: tuple[str, ...]
    merged: dict[str, str]
    values: FloatArray
    log_error: FloatArray
    highest: FloatArray
    noise: FloatArray
    noise_known: bool
    finish_noise: float
    design: FloatArray
    log_asked: FloatArray
    kept: NDArray[np.int64]
    blocks: tuple[str, ...]

    @property
    def is_censored(self) -> NDArray[np.bool_]:
        """Which putts are only known to have reached the hole, (n,)."""
        return np.isnan(self.log_error)


def terms(putts: Sequence[Putt]) -> Terms:
    """The terms of the putts that have every measured quantity; one in all when none was measured."""
    data = arrays(putts)
    columns = [measure_arrays(putts, name) for name in QUANTITIES]
    known = np.column_stack([np.isfinite(values) & (values > 0.0) for values, _ in columns])
    measured = known.mean(axis=0) >= LEAST_MEASURED_SHARE
    kept = np.flatnonzero(known[:, measured].all(axis=1))
    names, merged, coefficients = _groups(measured)
    quantities = np.ones((kept.size, 5))
    relative_sds = np.zeros((kept.size, 5))
    for j in np.flatnonzero(measured):
        values, sds = columns[j]
        quantities[:, j], relative_sds[:, j] = values[kept], sds[kept] / values[kept]
    finish = data.finish_along_m[kept]
    quantities[:, 4] = np.where(np.isfinite(finish), finish, 1.0)
    finish_sds = np.array([putts[int(k)].outcome.along_sd_m for k in kept])
    relative_sds[:, 4] = np.where(np.isfinite(finish), finish_sds / np.where(finish > 0.0, finish, 1.0), 0.0)
    noise_variance = _mean_squares(relative_sds)
    log_asked = np.log(data.asked_m[kept])
    values = np.log(quantities) @ coefficients.T
    values[:, -1] += np.where(np.isfinite(finish), 0.0, math.nan) - log_asked
    return Terms(
        names=names,
        merged=merged,
        values=values,
        log_error=np.log(finish) - log_asked,
        highest=np.log1p(CAPTURED_AT_MOST_PAST_M / data.asked_m[kept]),
        noise=(coefficients * np.nan_to_num(noise_variance)) @ coefficients.T,
        noise_known=bool(np.isfinite(noise_variance[:4][measured]).all()),
        finish_noise=float(np.nan_to_num(noise_variance[4])),
        design=_design(log_asked),
        log_asked=log_asked,
        kept=kept,
        blocks=tuple(putts[int(k)].block for k in kept),
    )


def _groups(measured: NDArray[np.bool_]) -> tuple[tuple[str, ...], dict[str, str], FloatArray]:
    """Names and coefficients of the groups; each missing quantity joins the terms that hold it.

    A group goes by the last of its causes, since what is not measured ends up further down the chain.
    """
    last = list(range(len(CAUSES)))
    for quantity in np.flatnonzero(~measured):
        holders = [last[term] for term in np.flatnonzero(COEFFICIENTS[:, quantity])]
        last = [max(holders) if group in holders else group for group in last]
    groups = sorted(set(last))
    merged = {CAUSES[term]: CAUSES[group] for term, group in enumerate(last) if term != group}
    rows = [
        COEFFICIENTS[[term for term, held in enumerate(last) if held == group]].sum(axis=0)
        for group in groups
    ]
    return tuple(CAUSES[group] for group in groups), merged, np.array(rows)


def _mean_squares(sds: FloatArray) -> FloatArray:
    """Mean square of the sds that are known, a column at a time; nan where none is."""
    known = np.isfinite(sds)
    counts = known.sum(axis=0)
    squares = np.where(known, sds, 0.0) ** 2
    return np.where(counts > 0, squares.sum(axis=0) / np.maximum(counts, 1), math.nan)


def _design(log_asked: FloatArray) -> FloatArray:
    columns = [np.ones(log_asked.size)]
    if log_asked.size and float(np.ptp(log_asked)) > SAME_LENGTH_LOG:
        columns.append(log_asked - log_asked.mean())
    return np.column_stack(columns)
