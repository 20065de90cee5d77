"""A stroke timed by hand: what the times tell, and no more."""

from __future__ import annotations

import math

from pacewright.core.measure import Measure, Remark
from pacewright.core.recording import Recording, TimedStroke
from pacewright.core.stroke import Stroke, StrokeKind


def timed_stroke(timed: TimedStroke, recording: Recording, index: int) -> Stroke:
    """Times and their ratio, with the uncertainty of a hand on a stopwatch for each event."""
    sd = timed.timing_sd_s
    times = timed.event_times_s
    events = {name: Measure(t, sd, "hand-timing") for name, t in times.items() if math.isfinite(t)}
    measures = dict(timed.measures)
    interval_sd = sd * math.sqrt(2.0)
    for name, first, last in (
        ("backswing_time_s", "takeaway", "top"),
        ("downswing_time_s", "top", "impact"),
        ("follow_through_time_s", "impact", "finish"),
    ):
        if first in events and last in events:
            measures[name] = Measure(times[last] - times[first], interval_sd, "hand-timing")
    back, down = measures.get("backswing_time_s"), measures.get("downswing_time_s")
    if back is not None and down is not None and down.value > 0:
        # The top is shared: a late press there lengthens one time and shortens the other.
        shared = sd * (1 / down.value + back.value / down.value**2) if "top" in events else 0.0
        alone = math.hypot(sd / down.value, sd * back.value / down.value**2)
        if "top" not in events:
            alone = math.hypot(back.sd / down.value, down.sd * back.value / down.value**2)
        measures["time_ratio"] = Measure(back.value / down.value, math.hypot(shared, alone), "hand-timing")
    remark = Remark("hand-timed", f"Timed by hand: each event is known to about {1000 * sd:.0f} ms.")
    kind: StrokeKind = "rehearsal" if timed.is_rehearsal else "putt"
    source, asked = recording.provenance.source, timed.asked_length_m
    return Stroke(kind, events, measures, (remark,), None, source, index, asked_length_m=asked)
