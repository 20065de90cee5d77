"""A stroke: its events, its measures with uncertainty, and the fitted curve behind them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from pacewright.core.measure import Measure, Remark
from pacewright.core.recording import FloatArray

StrokeKind = Literal["putt", "rehearsal"]


@dataclass(frozen=True, slots=True)
class StrokeCurve:
    """The stroke along the target line on an even time grid, time zero at contact, x zero at contact.

    ``time_s``, ``position_m``, ``speed_m_s`` all (n,). The sample at time zero carries the speed
    just before contact; ``speed_after_m_s`` is the speed just after it.
    """

    time_s: FloatArray
    position_m: FloatArray
    speed_m_s: FloatArray
    speed_after_m_s: float


@dataclass(frozen=True, slots=True)
class Stroke:
    """One stroke of a recording.

    ``events`` holds the times in seconds of takeaway, top, impact and finish on the recording's
    clock, as far as they were seen (Measure with value and standard uncertainty). In a rehearsal,
    which meets no ball, `impact` is where the head passes its place at address; quality says so.
    ``measures`` are named by the registry. ``source`` and ``index`` (from 0) tell where it came from.
    ``asked_length_m`` is the length of putt that was asked, where it is known.
    """

    kind: StrokeKind
    events: Mapping[str, Measure]
    measures: Mapping[str, Measure]
    quality: tuple[Remark, ...] = ()
    curve: StrokeCurve | None = None
    source: str = ""
    index: int = 0
    asked_length_m: float | None = None
    labels: Mapping[str, str] = field(default_factory=dict)

    def value(self, name: str) -> float:
        """Value of a measure, nan when the stroke does not have it."""
        measure = self.measures.get(name)
        return measure.value if measure is not None else float("nan")

    def sd(self, name: str) -> float:
        """Standard uncertainty of a measure, nan when the stroke does not have it."""
        measure = self.measures.get(name)
        return measure.sd if measure is not None else float("nan")
