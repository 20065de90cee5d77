"""Smoothness of a movement: spectral arc length (SPARC) and log dimensionless jerk (LDLJ).

Source: S. Balasubramanian, A. Melendez-Calderon, A. Roby-Brami, E. Burdet, On the analysis of movement
smoothness, J. NeuroEng. Rehabil. 12:112 (2015). SPARC is used on strokes since it stands noise better.
"""

from __future__ import annotations

import numpy as np

from pacewright.core.errors import QualityError
from pacewright.core.recording import FloatArray


def spectral_arc_length(
    speed: FloatArray, rate_hz: float, *, pad_level: int = 4, cutoff_hz: float = 10.0,
    amplitude_threshold: float = 0.05,
) -> FloatArray:  # fmt: skip
    """SPARC of speed profiles (..., n) sampled at ``rate_hz``: (...,), nearer zero is smoother.

    Raises QualityError with fewer than 4 samples.
    """
    samples = speed.shape[-1]
    if samples < 4:
        raise QualityError(f"Smoothness needs at least 4 samples of speed; {samples} are there.")
    length = int(2 ** (np.ceil(np.log2(samples)) + pad_level))
    frequency = np.arange(length // 2 + 1) * rate_hz / length
    # The method's selection: up to the cut-off, then between the first and last bin above the threshold.
    kept = frequency <= cutoff_hz
    spectrum = np.abs(np.fft.rfft(speed, length))
    spectrum = (spectrum / spectrum.max(axis=-1, keepdims=True))[..., kept]
    frequency = frequency[kept]
    above = spectrum >= amplitude_threshold
    first = above.argmax(axis=-1)
    last = above.shape[-1] - 1 - above[..., ::-1].argmax(axis=-1)
    span = (frequency[last] - frequency[first])[..., None]
    step = np.diff(frequency) / np.where(span > 0, span, 1.0)
    arc = np.sqrt(step**2 + np.diff(spectrum) ** 2)
    index = np.arange(arc.shape[-1])
    inside = (index >= first[..., None]) & (index < last[..., None])
    return np.asarray(-(arc * inside).sum(axis=-1))


def log_dimensionless_jerk(speed: FloatArray, rate_hz: float) -> float:
    """LDLJ of a speed profile (n,) sampled at ``rate_hz``. Raises QualityError with fewer than 4 samples."""
    if speed.size < 4:
        raise QualityError(f"Smoothness needs at least 4 samples of speed; {speed.size} are there.")
    step = 1.0 / rate_hz
    duration = speed.size * step
    jerk = np.diff(speed, 2) / step**2
    scale = duration**3 / float(np.max(np.abs(speed))) ** 2
    return float(-np.log(scale * np.sum(jerk**2) * step))
