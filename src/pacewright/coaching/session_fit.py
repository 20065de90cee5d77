"""One session's length errors: centre, trend and spread, with holed putts as censored observations.

The error of a putt is log(roll-out / asked length), near enough its share of the distance. A session is
fitted by a line in log asked length (where lengths differ) plus, where the order of the putts shows it
clearly, a warm-up that halves every three putts and a steady trend. Residuals beyond 2.6 robust
standard deviations are drawn in to there, so that one mishit does not decide a verdict.
Method page: docs/methods/progress.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.coaching.censored import (
    MAD_TO_SD,
    CensoredLine,
    drawn_in,
    fit_line,
    least_squares,
    median,
)
from pacewright.coaching.outcomes import CAPTURED_AT_MOST_PAST_M
from pacewright.coaching.percentages import count
from pacewright.core.errors import QualityError

FloatArray = NDArray[np.float64]

CLIP_SDS = 2.6
"""Residuals are drawn in beyond this many robust SDs; heavy tails then have a kurtosis near 3, as normal."""
WARM_UP_HALVING_PUTTS = 3.0
TREND_LEVEL = 0.01
"""A warm-up or trend is taken out only where an F test at this level sees it."""
LEAST_SHARE = 0.05
"""A putt that hardly moved counts as this share of the length asked (its log would be −∞)."""
LEAST_PUTTS = 3
MOST_STEPS = 100
TOLERANCE = 1e-5
"""Of the spread: far below what any number of putts tells."""
MISHIT_SDS = 3.5


@dataclass(frozen=True, slots=True)
class SessionFit:
    """The fit of one session of n putts.

    ``residual`` (n,) are log errors about the fit (for holed putts the root of the expected square),
    ``design`` (n, p) the fitted columns, ``is_seen`` (n,) false for holed putts without a finish.
    ``spread`` is the SD of the log error, mishits drawn in and allowed for (Huber's proposal 2).
    ``freedom`` counts what the putts tell about spread: n − p, less what holed putts hide.
    ``mean_error`` is the log error of the average putt with standard error ``mean_error_sd``.
    ``warm_up`` is the log error of the first putt over the settled one, ``trend`` the change from first
    to last putt; both nan when the order shows neither.
    """

    residual: FloatArray
    design: FloatArray
    is_seen: NDArray[np.bool_]
    spread: float
    freedom: float
    mean_error: float
    mean_error_sd: float
    warm_up: float
    trend: float

    @property
    def putts(self) -> int:
        """Number of putts, holed ones included."""
        return int(self.residual.size)

    def sum_of_squares(self, limit: float) -> float:
        """Sum of squares with ``freedom`` degrees, seen residuals drawn in beyond ±``limit``."""
        drawn = drawn_in(self.residual[self.is_seen], limit)
        design = self.design[self.is_seen]
        drawn = drawn - design @ (least_squares(design) @ drawn)
        total = float(drawn @ drawn) + float(np.sum(self.residual[~self.is_seen] ** 2))
        return total * self.freedom / float(self.putts - self.design.shape[1])

    @property
    def mishits(self) -> int:
        """Putts further out than a normal spread brings in thousands of putts."""
        return int(np.sum(np.abs(self.residual[self.is_seen]) > MISHIT_SDS * self.spread))


def robust_scale(residuals: Sequence[FloatArray]) -> float:
    """Robust SD of pooled residuals about zero."""
    return MAD_TO_SD * median(np.abs(np.concatenate(residuals)))


def log_errors(asked_m: FloatArray, finish_along_m: FloatArray) -> FloatArray:
    """log(finish / asked), (n,); nan where the finish is unknown; floors a putt that hardly moved."""
    share = np.asarray(finish_along_m, dtype=float) / np.asarray(asked_m, dtype=float)
    with np.errstate(invalid="ignore"):
        return np.asarray(np.log(np.maximum(share, LEAST_SHARE)))


def fit_session(asked_m: FloatArray, error: FloatArray, name: str = "session") -> SessionFit:
    """Fit one session in the order in which the putts were played.

    ``asked_m`` (n,) and ``error`` (n,) as `log_errors` gives them, nan for a holed putt without a finish.
    Raises QualityError with fewer than three seen putts or without any spread.
    """
    seen = np.isfinite(error)
    if int(seen.sum()) < LEAST_PUTTS:
        raise QualityError(
            f"The {name} has {count(int(seen.sum()), 'putt')} with a finish; "
            f"a spread needs {LEAST_PUTTS} or more."
        )
    reach = np.log1p(CAPTURED_AT_MOST_PAST_M / np.asarray(asked_m, dtype=float))
    base = _base_design(asked_m)
    plain = _fit(base, error, reach)
    order = _order_columns(error.size)
    full = np.column_stack([base, order])
    if _order_is_clear(full, plain, seen):
        return _session(full, _fit(full, error, reach), seen, order, name)
    return _session(base, plain, seen, None, name)


def _base_design(asked_m: FloatArray) -> FloatArray:
    log_asked = np.log(np.asarray(asked_m, dtype=float))
    columns = [np.ones(log_asked.size)]
    # A slope needs lengths that differ by more than a reading error, and putts enough to carry it.
    if float(np.ptp(log_asked)) > 0.05 and log_asked.size >= 6:
        columns.append(log_asked - log_asked.mean())
    return np.column_stack(columns)


def _fit(design: FloatArray, error: FloatArray, reach: FloatArray) -> CensoredLine:
    """Least squares on drawn-in residuals; a holed putt's log error lies between 0 and ``reach`` (n,)."""
    return fit_line(
        design,
        error,
        np.zeros(error.size),
        reach,
        clip_sds=CLIP_SDS,
        most_steps=MOST_STEPS,
        tolerance=TOLERANCE,
    )


def _order_columns(putts: int) -> FloatArray:
    index = np.arange(putts, dtype=float)
    warm_up = 0.5 ** (index / WARM_UP_HALVING_PUTTS)
    trend = index / max(putts - 1, 1) - 0.5
    return np.column_stack([warm_up - warm_up.mean(), trend])


def _order_is_clear(full: FloatArray, plain: CensoredLine, seen: NDArray[np.bool_]) -> bool:
    """Whether the order columns explain more of the plain residuals than luck would at `TREND_LEVEL` (F)."""
    from scipy.special import fdtrc

    freedom = int(seen.sum()) - full.shape[1]
    if freedom < 4:
        return False
    drawn = np.where(seen, drawn_in(plain.residual, CLIP_SDS * plain.sd), 0.0)
    added = full.shape[1] - plain.coefficients.size
    explained = float(np.sum((full @ (least_squares(full) @ drawn)) ** 2))
    rest = float(np.sum(drawn**2)) - explained
    return rest > 0.0 and float(fdtrc(added, freedom, explained / added / (rest / freedom))) < TREND_LEVEL


def _session(
    design: FloatArray, fit: CensoredLine, seen: NDArray[np.bool_], order: FloatArray | None, name: str
) -> SessionFit:
    columns = design.shape[1]
    if fit.sd <= 1e-9:
        raise QualityError(
            f"Every putt of the {name} shows the same error: there is no spread to judge; check the columns."
        )
    warm_up = trend = math.nan
    if order is not None:
        warm_up = float(fit.coefficients[-2] * np.ptp(order[:, 0]))
        trend = float(fit.coefficients[-1])
    return SessionFit(
        residual=fit.residual,
        design=design,
        is_seen=seen,
        spread=fit.sd,
        freedom=max(fit.putts_for_spread - columns, 1.0),
        mean_error=float(fit.coefficients[0]),
        mean_error_sd=fit.sd / math.sqrt(fit.putts_for_mean),
        warm_up=warm_up,
        trend=trend,
    )
