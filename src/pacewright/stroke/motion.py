"""The head along the target line, whatever recorded it: what the finder and the fits work on."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pacewright.core.recording import FloatArray


@dataclass(frozen=True, slots=True)
class HeadMotion:
    """Head along the target line, forward positive; all arrays (n,).

    ``observed`` is what was measured: positions (``derivative`` 0) or velocities (1, from a gyroscope),
    to which the fits are made. ``position_m`` is for finding and for lengths: the same array for
    positions, the integral for velocities. ``place_m`` is where the ball is thought to lie along the
    line (zero in a trajectory that keeps to the frame), None where nothing is known of it. With an
    ``arc_radius_m`` the places are along the arc. The scatter of ``observed`` is taken to be no less than
    ``least_noise``, however quiet it looks.
    """

    time_s: FloatArray
    observed: FloatArray
    position_m: FloatArray
    derivative: int
    place_m: float | None
    scale_relative_sd: float = 0.0
    arc_radius_m: float | None = None
    least_noise: float = 0.0

    def between(self, start_s: float, end_s: float) -> slice:
        """The samples with start ≤ time < end."""
        first, last = np.searchsorted(self.time_s, [start_s, end_s])
        return slice(int(first), int(last))

    def cropped(self, start_s: float, end_s: float) -> HeadMotion:
        """The same motion from start to end only: fits need not walk through the whole recording."""
        part = self.between(start_s, end_s)
        return replace(
            self, time_s=self.time_s[part], observed=self.observed[part], position_m=self.position_m[part]
        )

    def position_at(self, time_s: float) -> float:
        """Position by straight line between the samples."""
        return float(np.interp(time_s, self.time_s, self.position_m))

    def along_line(self, length_m: float) -> float:
        """A length along the target line: the chord, where places are along an arc."""
        radius = self.arc_radius_m
        return length_m if radius is None else float(radius * np.sin(length_m / radius))

    @property
    def rate_hz(self) -> float:
        """One over the median step."""
        return float(1.0 / np.median(np.diff(self.time_s)))
