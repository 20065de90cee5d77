"""Many linear Gaussian models at once: evidence, posterior mean and covariance.

A nonlinear parameter of a stroke (the moment of contact, the moment a motion starts) is put on a
grid; at each grid point the rest of the model is linear, y = X·β + noise, with a Gaussian prior on
β. The evidence at the grid points is then the posterior of the nonlinear parameter (times its own
prior), and figures are averaged over it, so that their uncertainty includes not knowing it.
Source: standard Bayesian linear regression (Bishop, Pattern Recognition and Machine Learning, 2006,
section 3.5; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray


@dataclass(frozen=True, slots=True)
class LinearFits:
    """G fits of M coefficients to the same N samples.

    ``log_evidence`` (G,) up to a constant that all fits share, ``mean`` (G, M); the rest is worked
    out on demand, since it is wanted at few grid points.
    """

    log_evidence: FloatArray
    mean: FloatArray
    _precision: FloatArray
    _gram: FloatArray
    _projected: FloatArray
    _energy: float
    _noise_sd: float

    def covariance(self, chosen: NDArray[np.intp]) -> FloatArray:
        """Posterior covariance (g, M, M) of the chosen fits."""
        return np.asarray(np.linalg.inv(self._precision[chosen]))

    def noise_sd(self, g: int) -> float:
        """Scatter of the samples about fit ``g``, allowing for the coefficients spent on them.

        The noise assumed so far counts as two samples, which keeps short windows sane.
        """
        mean, gram = self.mean[g], self._gram[g]
        residual_sum = self._energy - 2 * mean @ self._projected[g] + mean @ gram @ mean
        spent = np.trace(np.linalg.solve(self._precision[g], gram)) / self._noise_sd**2
        samples = gram[0, 0]
        spare = max(float(samples - spent), 0.0)
        return float(np.sqrt((max(residual_sum, 0.0) + 2 * self._noise_sd**2) / (spare + 2)))


def fit_all(design: FloatArray, y: FloatArray, noise_sd: float, prior_precision: FloatArray) -> LinearFits:
    """Fit ``design`` (G, N, M) to ``y`` (N,) with a zero-mean prior of precision (M, M).

    The first column of every design must be ones (a constant).
    """
    transposed = design.transpose(0, 2, 1)
    gram = transposed @ design
    projected = transposed @ y
    precision = gram / noise_sd**2 + prior_precision
    root = np.linalg.cholesky(precision)
    mean = np.linalg.solve(precision, projected[..., None] / noise_sd**2)[..., 0]
    log_root_det = np.log(root.diagonal(axis1=1, axis2=2)).sum(axis=1)
    log_evidence = 0.5 * np.einsum("gm,gm->g", mean, projected) / noise_sd**2 - log_root_det
    return LinearFits(
        np.asarray(log_evidence, float), np.asarray(mean, float), precision, gram, projected,
        float(y @ y), noise_sd,
    )  # fmt: skip


def weights(log_evidence: FloatArray) -> FloatArray:
    """Posterior weights (G,), adding to one."""
    shifted = np.exp(log_evidence - log_evidence.max())
    return np.asarray(shifted / shifted.sum())


def log_sum(log_values: FloatArray) -> float:
    """log Σ exp of values (G,), without overflow."""
    peak = float(log_values.max())
    return peak + float(np.log(np.exp(log_values - peak).sum()))
