"""Where and when a pixel is sampled: offsets within its footprint and instants within the exposure."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from pacewright.core.recording import FloatArray

FOOTPRINT_SD_PX = 0.42
"""Pixel aperture (0.29 px) and a sharp phone lens together."""


@lru_cache(maxsize=64)
def samples(count: int, footprint_sd_px: float = FOOTPRINT_SD_PX) -> tuple[FloatArray, FloatArray]:
    """Offsets (count, 2) in pixels and instants (count,) as shares of the exposure, −0.5 to 0.5.

    Low-discrepancy points brought to a Gaussian footprint. Mean zero, and free of correlation
    between place and time, so that blur does not shift what is seen.
    """
    from scipy.stats import norm

    k = np.arange(count)
    instants = (k + 0.5) / count - 0.5
    uniform = (0.5 + np.outer(k + 1, [0.7548776662466927, 0.5698402909980532])) % 1.0
    offsets = norm.ppf(0.02 + 0.96 * uniform)
    design = np.column_stack([np.ones(count), instants])
    if count > 4:
        offsets = offsets - design @ np.linalg.lstsq(design, offsets, rcond=None)[0]
        # Same spread in every direction, whatever the count.
        spread = np.linalg.cholesky(np.linalg.inv(np.cov(offsets.T, bias=True)))
        offsets = offsets @ spread
    else:
        offsets = offsets - offsets.mean(axis=0)
    # The first six are the ends of the exposure and the outermost places: an edge that crosses the pixel, or
    # passes it, parts them, and a pixel that they see alike needs no more.
    ends = [0, count - 1, *offsets.argmax(axis=0), *offsets.argmin(axis=0)]
    first = np.array(list(dict.fromkeys(int(end) for end in ends)))
    order = np.concatenate([first, np.setdiff1d(k, first)])
    return offsets[order] * footprint_sd_px, instants[order]
