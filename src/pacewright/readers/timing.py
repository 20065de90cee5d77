"""Strokes timed by hand: one row a stroke, the times of its events or how long its parts took."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise
from typing import BinaryIO

from pacewright.core.errors import ReadError
from pacewright.core.measure import Measure, Remark
from pacewright.core.recording import Recording, TimedStroke
from pacewright.core.registry import EVENTS
from pacewright.readers.checks import FARTHEST_M
from pacewright.readers.columns import TARGETS, Column, find_columns, target_name, wanted_targets
from pacewright.readers.layout import TableLayout, cell_value, find_layout, is_comment
from pacewright.readers.numbers import LEAVE_OUT
from pacewright.readers.options import ReadOptions
from pacewright.readers.registry import Source
from pacewright.readers.shared import ARC_RADIUS, MOTION_CAPTURE_ONLY, ignored_remarks
from pacewright.readers.table import open_layout
from pacewright.readers.text import line_blocks

_DURATIONS = ("backswing_time", "downswing_time", "follow_through_time")
_LENGTHS = ("backswing_length", "follow_through_length", "roll_out")
_TARGETS = (*EVENTS, *_DURATIONS, *_LENGTHS, "timing_sd", "asked_length", "rehearsal", "kind")
_YES = frozenset({"1", "yes", "y", "true", "x", "rehearsal", "practice"})
_NO = frozenset({"", "0", "no", "n", "false", "putt", "stroke", "-"})
_LONGEST_STROKE_S = 10.0


class TimingReader:
    """Tables with ``takeaway_s, top_s, impact_s`` or ``backswing_time_s, downswing_time_s``."""

    name = "hand-timing-csv"

    def recognises(self, head: bytes, options: ReadOptions) -> float:
        """Sure when two events or two durations have a column."""
        layout = find_layout(head, options.delimiter, options.decimal)
        if layout is None:
            return 0.0
        offered = wanted_targets(layout, options.columns)
        return 0.7 if len(offered & {*EVENTS, *_DURATIONS}) >= 2 else 0.0

    def read(self, stream: BinaryIO, source: Source, options: ReadOptions) -> Recording:
        """Each row as a stroke, with the uncertainty of a hand on a stopwatch."""
        layout = open_layout(stream, options)
        columns = find_columns(layout, options.columns, _TARGETS, source)
        text = b"".join(block for block, _ in line_blocks(stream, layout.encoding))
        codec = "latin-1" if layout.encoding.codec == "latin-1" else "utf-8"
        strokes: list[TimedStroke] = []
        left_out: list[int] = []
        for number, line in enumerate(text.decode(codec, errors="replace").split("\n"), 1):
            if number < layout.first_data_line or not line.strip() or is_comment(line):
                continue
            try:
                strokes.append(_timed_stroke(layout, columns, line, options))
            except ReadError as fault:
                if not options.drop_bad_rows:
                    raise source.error(f"line {number}: {fault} Or {LEAVE_OUT}.") from None
                left_out.append(number)
        if not strokes:
            raise source.error("there is a header but no stroke under it.")
        useless = (*MOTION_CAPTURE_ONLY, *ARC_RADIUS, "target_axis", "rate_hz")
        remarks = ignored_remarks(options, useless, "times taken by hand")
        if left_out:
            told = f"{len(left_out)} rows could not be read and were left out."
            remarks.append(Remark("bad-rows", told))
        provenance = source.provenance(self.name, options)
        return Recording("timing", {}, provenance, timed_strokes=tuple(strokes), remarks=tuple(remarks))


def _timed_stroke(
    layout: TableLayout, columns: Mapping[str, Column], line: str, options: ReadOptions
) -> TimedStroke:
    """The stroke of one row; ReadError, without the place, when its times make no sense."""
    cells = layout.cells(line)
    if len(cells) < layout.width:
        raise ReadError(
            f"the row is cut off: it has {len(cells)} cells where the header names {layout.width}; "
            "mend or delete the line."
        )
    figures = {
        target: _figure(cells[column.index], column, layout.decimal)
        for target, column in columns.items()
        if TARGETS[target]
    }
    sd = figures.get("timing_sd", math.nan)
    sd = options.timing_sd_s if math.isnan(sd) else sd
    if not 0.0 < sd <= 1.0:
        raise ReadError(f"a timing uncertainty of {sd:g} s makes no sense.")
    events = {event: figures.get(event, math.nan) for event in EVENTS}
    _check_order(events)
    # How long a part took comes from two presses of the watch.
    measures = {
        f"{target}_s": Measure(_checked_duration(target, figures[target]), sd * math.sqrt(2.0), "hand-timing")
        for target in _DURATIONS
        if math.isfinite(figures.get(target, math.nan))
    }
    measures |= {
        target_name(target): Measure(figures[target], math.nan, "hand-timing")
        for target in _LENGTHS
        if math.isfinite(figures.get(target, math.nan))
    }
    if not measures and sum(math.isfinite(time) for time in events.values()) < 2:
        raise ReadError("the row has no two times; delete the line if the stroke was not timed.")
    asked = _checked_asked(figures.get("asked_length", math.nan))
    return TimedStroke(
        events, sd, measures, _is_rehearsal(cells, columns), asked if math.isfinite(asked) else None
    )


def _figure(cell: str, column: Column, decimal: str) -> float:
    value = cell_value(cell, decimal)
    if value is None:
        raise ReadError(
            f"column '{column.name}': '{cell[:30]}' is not a number; leave it empty if it is missing."
        )
    return value * column.factor


def _check_order(events: Mapping[str, float]) -> None:
    known = [(event, time) for event, time in events.items() if math.isfinite(time)]
    for (before, earlier), (after, later) in pairwise(known):
        if not 0.0 < later - earlier < _LONGEST_STROKE_S:
            raise ReadError(
                f"{before} at {earlier:g} s and {after} at {later:g} s cannot be of one stroke; "
                f"{after} comes after {before}, within {_LONGEST_STROKE_S:g} s. Is the unit right?"
            )


def _checked_duration(target: str, duration_s: float) -> float:
    if not 0.0 < duration_s < _LONGEST_STROKE_S:
        raise ReadError(f"a {target} of {duration_s:g} s makes no sense; is the unit right?")
    return duration_s


def _checked_asked(length_m: float) -> float:
    if not math.isnan(length_m) and not 0.0 < length_m <= FARTHEST_M:
        raise ReadError(f"a putt length asked of {length_m:.4g} m makes no sense; is the unit right?")
    return length_m


def _is_rehearsal(cells: list[str], columns: Mapping[str, Column]) -> bool:
    for target in ("rehearsal", "kind"):
        if target in columns:
            word = cells[columns[target].index].lower()
            if word not in _YES | _NO:
                raise ReadError(
                    f"column '{columns[target].name}': '{word[:30]}' is neither putt nor rehearsal."
                )
            if word in _YES:
                return True
    return False
