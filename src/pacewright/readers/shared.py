"""What every reader of sampled motion does at the end: traces without holes, and remarks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from pacewright.core.measure import Measure, Remark
from pacewright.core.recording import FloatArray, Trace
from pacewright.readers.options import ReadOptions
from pacewright.readers.times import gap_remarks

MOTION_CAPTURE_ONLY = ("marker", "ball_marker", "up_axis")
ARC_RADIUS = ("arc_radius_m", "arc_radius_sd_m")
_TYPED = {
    "marker": "--marker", "arc_radius_m": "--arc-radius", "rate_hz": "--rate", "columns": "--columns",
}  # fmt: skip
"""Options that have a name of their own on the command line."""


def complete_trace(
    time_s: FloatArray,
    figures: Mapping[str, FloatArray],
    targets: Sequence[str],
    what: str,
    remarks: list[Remark],
    *,
    seen_throughout: bool = True,
) -> Trace | None:
    """The trace of one thing from the samples in which all of its axes are there; None without any.

    ``figures`` are columns (n,) by target (``head_x``), nan where missing. An axis missing in most
    samples is left out rather than the samples. ``remarks`` gains what was left out and the gaps that
    this leaves; samples before a thing comes into sight are not missing unless it should be
    ``seen_throughout``.
    """
    first = next((figures[target] for target in targets if target in figures), None)
    if first is None or not np.isfinite(first).any():
        return None
    seen = int(np.isfinite(first).sum())
    axes = [t for t in targets if t in figures and 2 * int(np.isfinite(figures[t]).sum()) >= seen]
    values = np.column_stack([figures[target] for target in axes])
    complete = np.asarray(np.isfinite(values).all(axis=1), dtype=np.bool_)
    missing = int((~complete).sum()) if seen_throughout else _missing_within(complete)
    if missing:
        told = f"{missing} {'sample' if missing == 1 else 'samples'} of the {what} missing, left out."
        remarks.append(Remark("missing-samples", told))
    trace = Trace(time_s[complete], values[complete], tuple(target[-1] for target in axes))
    if missing:
        known = {remark.text for remark in remarks}
        own = [remark for remark in gap_remarks(trace.time_s) if remark.text not in known]
        remarks.extend(Remark(remark.code, f"The {what}: {remark.text}") for remark in own)
    return trace


def given_radius(options: ReadOptions) -> Measure | None:
    """The arc radius of the options with its uncertainty."""
    if options.arc_radius_m is None:
        return None
    return Measure(options.arc_radius_m, options.arc_radius_sd_m, "given")


def ignored_remarks(options: ReadOptions, useless: Sequence[str], what: str) -> list[Remark]:
    """A remark on those ``useless`` options that were given all the same, for a file that is ``what``."""
    given = [name for name in options.settings() if name in useless]
    if not given:
        return []
    told = ", ".join(f"{name} ({_TYPED.get(name, f'--read {name}')})" for name in given)
    return [Remark("option-ignored", f"What was said with {told} has no use for {what} and was ignored.")]


def mirrored_remarks(options: ReadOptions, how: str) -> tuple[Remark, ...]:
    """What a left-handed recording says about itself."""
    if not options.left_handed:
        return ()
    return (Remark("left-handed-mirrored", f"The player is left-handed: the recording was mirrored {how}."),)


def _missing_within(complete: NDArray[np.bool_]) -> int:
    """Missing samples from the first to the last that are there."""
    there = np.flatnonzero(complete)
    return int((~complete[there[0] : there[-1] + 1]).sum()) if there.size else 0
