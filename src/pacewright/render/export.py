"""Strokes as a table of comma-separated values, and values made fit for JSON."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping, Sequence

from pacewright.core.measure import Measure
from pacewright.core.registry import EVENTS, MEASURES
from pacewright.core.stroke import Stroke

_EVENT_COLUMNS = tuple(f"{event}_time_s" for event in EVENTS)


def strokes_csv(strokes: Iterable[Stroke]) -> str:
    """One row a stroke: its source, its events and measures (each with a ``_sd`` column), quality codes.

    The columns are the same for every recording (the whole registry); a figure that is missing is empty.
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    figures = (*_EVENT_COLUMNS, *MEASURES)
    writer.writerow(
        ["source", "stroke", "kind", "asked_length_m"]
        + [column for name in figures for column in (name, f"{name}_sd")]
        + ["quality"]
    )
    for stroke in strokes:
        row = [stroke.source, str(stroke.index + 1), stroke.kind, _text(stroke.asked_length_m)]
        for event in EVENTS:
            row += _value_and_sd(stroke.events.get(event))
        for name in MEASURES:
            row += _value_and_sd(stroke.measures.get(name))
        writer.writerow([*row, " ".join(remark.code for remark in stroke.quality)])
    return buffer.getvalue()


def json_ready(value: object) -> object:
    """The same structure fit for `json.dumps`: numbers that are not finite become None, at any depth.

    Measures become ``{"value", "sd"}``; NumPy scalars become Python's. Raises TypeError for anything else.
    """
    if value is None or isinstance(value, (bool, str)):
        return value
    if isinstance(value, Measure):
        return {"value": json_ready(value.value), "sd": json_ready(value.sd)}
    if isinstance(value, Mapping):
        return {str(key): json_ready(item) for key, item in value.items()}
    if isinstance(value, Sequence):
        return [json_ready(item) for item in value]
    if isinstance(value, int):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if hasattr(value, "tolist"):  # NumPy scalars and arrays
        return json_ready(value.tolist())
    raise TypeError(f"{type(value).__name__} has no place in JSON output.")


def _value_and_sd(measure: Measure | None) -> list[str]:
    return ["", ""] if measure is None else [_text(measure.value), _text(measure.sd)]


def _text(value: float | None) -> str:
    """Nine significant digits: more than any sensor gives, and free of binary tails."""
    return "" if value is None or not math.isfinite(value) else f"{value:.9g}"
