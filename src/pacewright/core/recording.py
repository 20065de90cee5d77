"""A recording: what a reader or a tracker makes of a file, in Pacewright's frame.

Frame: metres, seconds, right-handed; x along the target line towards the target, z up, origin at
the ball at rest. Left-handed players are mirrored on reading, and the recording says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from pacewright.core.errors import ReadError
from pacewright.core.measure import Measure, Remark

if TYPE_CHECKING:
    from pacewright.core.clip import ClipTrack

FloatArray = NDArray[np.float64]
RecordingKind = Literal["trajectory", "inertial", "timing"]


@dataclass(frozen=True, slots=True)
class Trace:
    """One sampled vector: ``time_s`` (n,) strictly increasing, ``values`` (n, k) in SI units.

    ``axes`` names the k columns. A column that was not recorded is left out, a sample that is
    missing is left out too (no row of nan): gaps are gaps in time.
    ``confidence`` (n,) in 0..1 is there where a tracker gives it.
    """

    time_s: FloatArray
    values: FloatArray
    axes: tuple[str, ...]
    confidence: FloatArray | None = None

    def __post_init__(self) -> None:
        if self.time_s.ndim != 1 or self.values.shape != (self.time_s.size, len(self.axes)):
            raise ReadError(
                f"A trace needs one row for each time and one column for each axis: got times "
                f"{self.time_s.shape}, values {self.values.shape}, axes {self.axes}."
            )
        if self.time_s.size > 1 and not bool(np.all(np.diff(self.time_s) > 0)):
            raise ReadError("The times of a trace must increase from sample to sample.")
        if not bool(np.isfinite(self.values).all() and np.isfinite(self.time_s).all()):
            raise ReadError("A trace holds finite numbers only; leave missing samples out.")

    @property
    def rate_hz(self) -> float:
        """Usual sampling rate: one over the median step; nan with fewer than two samples."""
        if self.time_s.size < 2:
            return float("nan")
        return float(1.0 / np.median(np.diff(self.time_s)))

    def axis(self, name: str) -> FloatArray | None:
        """The column of that axis, (n,), or None when it was not recorded."""
        return self.values[:, self.axes.index(name)] if name in self.axes else None


@dataclass(frozen=True, slots=True)
class TimedStroke:
    """A stroke timed by hand: event times in seconds (any may be nan) and what else was noted."""

    event_times_s: Mapping[str, float]
    timing_sd_s: float
    measures: Mapping[str, Measure] = field(default_factory=dict)
    is_rehearsal: bool = False
    asked_length_m: float | None = None


@dataclass(frozen=True, slots=True)
class Provenance:
    """Where a recording came from, so that an old figure can be explained."""

    source: str
    sha256: str
    reader: str
    settings: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Recording:
    """What was recorded. ``traces`` by name:

    trajectory  ``head`` with axes among x, y, z in metres (x always); ``ball`` with x, y if seen
    inertial    ``gyro`` and ``accel`` with axes x, y, z of the sensor, in rad/s and m/s²
    timing      none; ``timed_strokes`` hold the figures

    ``arc_radius_m`` is the distance from the swing axis to the head, where it is known.
    ``scale_relative_sd`` is the relative uncertainty of every length (a scale seen in a picture).
    ``place_bias_m`` is the standard size of errors of place that last some hundredths of a second, as a
    picture's light and smear make them: no averaging over samples takes them out.
    ``clip`` is what was seen in the pictures, for a recording made from a clip.
    """

    kind: RecordingKind
    traces: Mapping[str, Trace]
    provenance: Provenance
    mirrored: bool = False
    arc_radius_m: Measure | None = None
    scale_relative_sd: float = 0.0
    place_bias_m: float = 0.0
    timed_strokes: tuple[TimedStroke, ...] = ()
    remarks: tuple[Remark, ...] = ()
    clip: ClipTrack | None = None

    @property
    def rate_hz(self) -> float:
        """Rate of the first trace; nan for strokes timed by hand."""
        return next(iter(self.traces.values())).rate_hz if self.traces else float("nan")
