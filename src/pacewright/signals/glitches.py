"""Single samples that stand away from their neighbours farther than any movement goes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_TIMES_SCATTER = 12.0


def glitches(
    time_s: NDArray[np.float64], value: NDArray[np.float64], fastest_step: float
) -> NDArray[np.bool_]:
    """Which of the samples (n,) are glitches, as a mask (n,).

    A sample is one when it lies off the straight line between its neighbours by over twelve times the
    usual scatter about such lines, and by over ``fastest_step`` (value a second) times the step: a change of
    rate of that size in one step is taken as real. Of neighbours that are off, the farthest is the glitch.
    """
    found = np.zeros(value.size, dtype=bool)
    if value.size < 5:
        return found
    before, step = np.diff(time_s)[:-1], time_s[2:] - time_s[:-2]
    off = np.abs(value[1:-1] - value[:-2] - (value[2:] - value[:-2]) * before / step)
    limit = np.maximum(_TIMES_SCATTER * 1.4826 * float(np.median(off)), fastest_step * step / 2)
    farthest = np.ones(off.size, dtype=bool)
    farthest[1:] &= off[1:] > off[:-1]
    farthest[:-1] &= off[:-1] >= off[1:]
    found[1:-1] = (off > limit) & farthest
    return found
