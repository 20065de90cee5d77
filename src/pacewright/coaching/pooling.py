"""A line with partly pooled groups: closed form given three standard deviations, which a grid sums over.

log figure = level + slope·(log length − reference) + session + putt length + scatter

Level, slope and the groups' own offsets have normal priors, the SDs of the groups half-normal ones; the
scatter's logarithm is flat, or stands as if so many strokes of a usual scatter had been seen before. Given
the three SDs all is one normal distribution (Lindley and Smith, J. R. Stat. Soc. B 34:1, 1972).
Method page: docs/methods/player-model.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

GROUP_SD_SCALE = 0.05
"""Half-normal scale of how far sessions, and putt lengths, differ in log: 5 % (our choice)."""
_SCATTER_GRID = np.exp(np.linspace(-0.7, 0.7, 25))
_GROUP_GRID = np.array([1e-4, 0.004, 0.008, 0.012, 0.018, 0.026, 0.037, 0.052, 0.073, 0.1, 0.14])
LEAST_IN_A_GROUP = 3


@dataclass(frozen=True, slots=True)
class Prior:
    """Normal priors of level and slope: mean and SD each; ``scatter`` counts as that of so many strokes."""

    level: float
    level_sd: float
    slope: float = 0.0
    slope_sd: float = 0.15
    scatter: float = 0.0
    scatter_strokes: float = 0.0


@dataclass(frozen=True, slots=True)
class PooledLine:
    """Posterior of the line. ``coefficients`` (p,) with ``covariance`` (p, p): level, slope, then the groups.

    ``scatter``, ``session_sd`` and ``length_sd`` are posterior means of the SDs. ``log_evidence`` compares
    priors on the same data. ``design`` (n, p), ``left`` (n,) what the line leaves of the data, ``shrink``
    (p, n), which makes coefficients of data, and the number of ``sessions`` among the columns.
    """

    coefficients: FloatArray
    covariance: FloatArray
    scatter: float
    session_sd: float
    length_sd: float
    log_evidence: float
    design: FloatArray
    left: FloatArray
    shrink: FloatArray
    sessions: int

    def at(self, x: float) -> tuple[float, float]:
        """Mean and SD of the line at x: in a new session, over the putt lengths that were seen."""
        row = np.zeros(self.coefficients.size)
        row[:2] = 1.0, x
        row[2 + self.sessions :] = self.design[:, 2 + self.sessions :].mean(axis=0)
        return float(row @ self.coefficients), math.sqrt(float(row @ self.covariance @ row))


def groups(labels: NDArray[np.generic]) -> FloatArray:
    """Indicator columns (n, g) of the groups that have enough members; none when there is only one group."""
    unique, index, counts = np.unique(labels, return_inverse=True, return_counts=True)
    kept = np.flatnonzero(counts >= LEAST_IN_A_GROUP)
    if unique.size < 2 or kept.size == 0:
        return np.zeros((labels.size, 0))
    return np.asarray(index[:, None] == kept[None, :], dtype=float)


def pooled_line(
    y: FloatArray, x: FloatArray, prior: Prior, sessions: FloatArray, lengths: FloatArray
) -> PooledLine:
    """Fit y (n,) against x (n,), with indicator columns (n, g) of sessions and of putt lengths."""
    design = np.column_stack([np.ones(y.size), x, sessions, lengths])
    target = y - prior.level - prior.slope * x
    products, projected, square = design.T @ design, design.T @ target, float(target @ target)
    plain = np.column_stack([np.ones(y.size), x]) if float(np.ptp(x)) > 0.0 else np.ones((y.size, 1))
    left = target - plain @ (np.linalg.pinv(plain) @ target)
    freedom = max(y.size - plain.shape[1], 0)
    squares = float(left @ left) + prior.scatter_strokes * prior.scatter**2
    centre = max(math.sqrt(squares / max(freedom + prior.scatter_strokes, 1.0)), 1e-5)
    scatter, session_sd, length_sd, log_prior = _grid(centre, sessions.shape[1], lengths.shape[1])
    variances = np.empty((scatter.size, design.shape[1]))
    variances[:, 0], variances[:, 1] = prior.level_sd**2, max(prior.slope_sd, 1e-9) ** 2
    variances[:, 2 : 2 + sessions.shape[1]] = session_sd[:, None] ** 2
    variances[:, 2 + sessions.shape[1] :] = length_sd[:, None] ** 2
    root = np.sqrt(variances)
    # Scaled by the priors' roots, so that a group SD near 0 does no harm.
    inner = root[:, :, None] * products * root[:, None, :] / scatter[:, None, None] ** 2
    inner += np.eye(design.shape[1])
    scaled = root * projected / scatter[:, None] ** 2
    solved = np.linalg.solve(inner, scaled[:, :, None])[:, :, 0]
    _, log_determinant = np.linalg.slogdet(inner)
    log_likelihood = -0.5 * (
        square / scatter**2 - np.sum(scaled * solved, axis=1) + log_determinant
    ) - y.size * np.log(scatter * math.sqrt(2.0 * math.pi))
    # Scaled inverse χ² in log scatter; flat with no strokes.
    log_prior -= prior.scatter_strokes * (np.log(scatter) + 0.5 * (prior.scatter / scatter) ** 2)
    log_weight = log_likelihood + log_prior
    top = float(log_weight.max())
    weight = np.exp(log_weight - top)
    evidence = top + math.log(float(weight.sum()))
    weight /= weight.sum()
    means = root * solved
    inverse = np.linalg.inv(inner) * root[:, :, None] * root[:, None, :]
    mean = weight @ means
    spread = means - mean
    covariance = np.einsum("g,gij->ij", weight, inverse) + np.einsum("g,gi,gj->ij", weight, spread, spread)
    best = int(np.argmax(weight))
    mean = mean + np.concatenate([[prior.level, prior.slope], np.zeros(mean.size - 2)])
    return PooledLine(
        coefficients=mean,
        covariance=covariance,
        scatter=float(weight @ scatter),
        session_sd=float(weight @ session_sd) if sessions.shape[1] else 0.0,
        length_sd=float(weight @ length_sd) if lengths.shape[1] else 0.0,
        log_evidence=evidence,
        design=design,
        left=y - design @ mean,
        shrink=inverse[best] @ design.T / scatter[best] ** 2,
        sessions=sessions.shape[1],
    )


def _grid(
    centre: float, sessions: int, lengths: int
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Every combination of the three SDs, and the log prior weight of each."""
    nothing = np.array([1e-4])
    one, two = (_GROUP_GRID if count else nothing for count in (sessions, lengths))
    scatter, first, second = (
        grid.ravel() for grid in np.meshgrid(centre * _SCATTER_GRID, one, two, indexing="ij")
    )
    log_prior = np.full(scatter.size, -math.log(_SCATTER_GRID.size))
    for grid, values in ((one, first), (two, second)):
        if grid.size > 1:
            weight = np.exp(-0.5 * (grid / GROUP_SD_SCALE) ** 2) * np.gradient(grid)
            log_prior += np.log((weight / weight.sum())[np.searchsorted(grid, values)])
    return scatter, first, second, log_prior
