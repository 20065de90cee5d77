"""Whether figures can be what their column says: impossible cells, other units, clipped sensors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.core.measure import Remark
from pacewright.core.recording import FloatArray, Trace
from pacewright.core.units import FOOT_M, INCH_M
from pacewright.readers.columns import Column
from pacewright.readers.registry import Source
from pacewright.readers.times import LineOf

FARTHEST_M = 100.0
"""No head and no putted ball is farther from the origin than this."""

_WIDEST_SWING_M = 10.0
_TYPICAL_SPAN_M = 0.6
_SMALLEST_SPAN_M = 0.004
_SMOOTH_RATIO = 40.0
_TRIMMED_SHARE = 0.001
_LENGTH_UNITS = (("mm", 0.001), ("cm", 0.01), ("m", 1.0), ("in", INCH_M), ("ft", FOOT_M))
_FEWEST_CLIPPED_RUN = 3
_MOST_IMPOSSIBLE = 0.2
_JUMP_STEPS = 2.5
_CUT_JITTERS = 6.0
_CUT_SPEED_SHARE = 0.2


@dataclass(frozen=True, slots=True)
class Limits:
    """Beyond ``largest`` (in SI) a figure is a fault of the file and not a measurement."""

    largest: float
    unit: str


def drop_impossible(
    values: FloatArray, columns: Sequence[Column], limits: Sequence[Limits], source: Source, line_of: LineOf
) -> list[Remark]:
    """Make nan, in place, what is beyond the limits in ``values`` (n, k); one remark on all of it.

    Raises ReadError when that is a good part of a column: then it is the unit that is wrong.
    """
    count, first = 0, ""
    for column, limit, figures in zip(columns, limits, values.T, strict=True):
        with np.errstate(invalid="ignore"):
            beyond = np.flatnonzero(np.abs(figures) > limit.largest)
        if beyond.size == 0:
            continue
        known = int(np.isfinite(figures).sum())
        in_file = figures[beyond[0]] / column.factor
        place = f"line {line_of(int(beyond[0]))}, column '{column.name}'"
        if beyond.size > _MOST_IMPOSSIBLE * known:
            raise source.error(
                f"{place}: {in_file:.4g} is beyond {limit.largest:g} {limit.unit}, and so are {beyond.size} "
                f"of {known} figures; {_other_unit(figures, column, limit)}."
            )
        first = first or f"{place}, {in_file:.4g}"
        count += beyond.size
        figures[beyond] = np.nan
    if count == 0:
        return []
    return [
        Remark(
            "out-of-range", f"{count} figures beyond any possible value were left out; the first: {first}."
        )
    ]


def _other_unit(figures: FloatArray, column: Column, limit: Limits) -> str:
    if limit.unit != "m":
        return "the unit is not what the name of the column says"
    known = figures[np.isfinite(figures)]
    unit = likely_unit(max(_trimmed_span(known), 1e-3) / column.factor)
    return f"they look like {unit} (--columns {column.target}_{unit}={column.name})"


def check_places(values: FloatArray, column: Column, source: Source) -> None:
    """Refuse places along the target line (n,) that only make sense in another unit."""
    known = values[np.isfinite(values)]
    if known.size < 2:
        return
    span = _trimmed_span(known)
    in_file = span / column.factor
    if span > _WIDEST_SWING_M:
        what = f"spans {span:.4g} m, which no putting stroke does"
    elif span < _SMALLEST_SPAN_M and wanders(known) and in_file > _SMALLEST_SPAN_M:
        what = f"moves {1000 * span:.3g} mm in all, which is no putting stroke"
    else:
        return
    unit = likely_unit(in_file)
    raise source.error(
        f"column '{column.name}' {what}; its figures look like {unit}. Name it {column.target}_{unit} "
        f"(--columns {column.target}_{unit}={column.name})."
    )


def likely_unit(span_in_file: float) -> str:
    """The unit of length under which a span is nearest to that of a putting stroke."""
    off = {unit: abs(np.log(span_in_file * size / _TYPICAL_SPAN_M)) for unit, size in _LENGTH_UNITS}
    return min(off, key=lambda unit: off[unit])


def wanders(known: FloatArray) -> bool:
    """Whether figures (n,) move smoothly, as a moving thing does, and do not only scatter."""
    return _trimmed_span(known) > _SMOOTH_RATIO * float(np.median(np.abs(np.diff(known))) + 1e-12)


def clipped_remark(values: FloatArray, axes: Sequence[str], what: str, unit: str) -> Remark | None:
    """A remark when a sensor's figures (n, k) stand flat at their extreme: its range was exceeded."""
    told: list[str] = []
    for axis, column in zip(axes, values.T, strict=True):
        for extreme in (float(column.max()), float(column.min())):
            count = _flat_samples(column, extreme)
            if count:
                told.append(f"{axis} {count} samples at {extreme:.4g} {unit}")
    if not told:
        return None
    return Remark("clipped", f"The {what} was driven beyond its range: {', '.join(told)}.")


def cut_off_remark(head: Trace) -> Remark | None:
    """A remark when places of the head stand flat at their extreme in the middle of a fast motion."""
    told: list[str] = []
    for axis, column in zip(head.axes, head.values.T, strict=True):
        for extreme in (float(column.max()), float(column.min())):
            count = _cut_off_samples(head.time_s, column, extreme)
            if count:
                told.append(f"{axis} {count} samples at {extreme:.4g} m")
    if not told:
        return None
    return Remark(
        "clipped",
        f"The head's place stands flat at its extreme in the middle of fast motion ({', '.join(told)}): what "
        "recorded it reaches no farther, and lengths and times there are not those of the stroke.",
    )


def _cut_off_samples(time_s: FloatArray, column: FloatArray, extreme: float) -> int:
    """Samples in runs at the extreme that a fast motion enters or leaves; 0 when there are none.

    A head at rest gets there slowly, and so it is with a pause at the top.
    """
    starts, ends = _long_runs(column, extreme)
    if starts.size == 0 or ends[0] - starts[0] == column.size:
        return 0
    steps = np.abs(np.diff(column))
    speed = steps / np.diff(time_s)
    usual_step_s = float(np.median(np.diff(time_s)))
    resolution = float(steps[steps > 0].min())
    jitter = float(np.median(np.abs(np.diff(column, 2))))
    fast = max(
        _JUMP_STEPS * resolution / usual_step_s,
        _CUT_JITTERS * jitter / usual_step_s,
        _CUT_SPEED_SHARE * float(np.quantile(speed, 0.999)),
    )
    # The step on to the extreme is a part of a step: two are looked at. The file's ends have none.
    beside = np.concatenate([[0.0, 0.0], speed, [0.0, 0.0]])
    into = np.maximum(beside[starts], beside[starts + 1])
    out_of = np.maximum(beside[ends + 1], beside[ends + 2])
    return int((ends - starts)[np.maximum(into, out_of) > fast].sum())


def _long_runs(column: FloatArray, value: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First samples, and samples after the last, of the longer runs of one value."""
    at = (column == value).astype(np.int8)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], at, [0]])))
    starts, ends = edges[::2], edges[1::2]
    long = ends - starts >= _FEWEST_CLIPPED_RUN
    return starts[long], ends[long]


def _flat_samples(column: FloatArray, extreme: float) -> int:
    """Samples in runs at the extreme that the figures ran into; 0 when there are none.

    A coarse sensor also repeats its highest figure where a motion turns gently, but it gets there in
    single steps of its resolution; a clipped one arrives in a jump.
    """
    starts, ends = _long_runs(column, extreme)
    if starts.size == 0 or ends[0] - starts[0] == column.size:
        return 0
    steps = np.abs(np.diff(column))
    resolution = float(steps[steps > 0].min())
    into = np.where(starts > 0, steps[np.maximum(starts - 1, 0)], 0.0)
    out_of = np.where(ends < column.size, steps[np.minimum(ends, column.size - 1) - 1], 0.0)
    jumped = np.maximum(into, out_of) > _JUMP_STEPS * resolution
    return int((ends - starts)[jumped].sum())


def _trimmed_span(known: FloatArray) -> float:
    """Span without the thousandth (at least one sample of ten or more) at each end."""
    cut = max(int(_TRIMMED_SHARE * known.size), 1 if known.size >= 10 else 0)
    if cut == 0:
        return float(np.ptp(known))
    part = np.partition(known, (cut, known.size - 1 - cut))
    return float(part[known.size - 1 - cut] - part[cut])
