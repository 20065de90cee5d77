"""The time column made fit for a trace: increasing, in seconds, on the clock that took the samples.

In this order: rows without a time are left out; rows out of order are put in order where they are few;
a clock that starts again is carried on; rounded times are put back on their even clock; rows of one time
are merged; gaps are told. Each step that changes something leaves a remark.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pacewright.core.errors import ReadError
from pacewright.core.measure import Remark
from pacewright.core.recording import FloatArray
from pacewright.readers.registry import Source
from pacewright.signals.clock import Gap, gaps, regular_clock

LineOf = Callable[[int], int]
"""Line of the file for a row of the table."""

_SLOWEST_HZ, _FASTEST_HZ = 5.0, 60_000.0
_LIKELY_HZ = (20.0, 5000.0)
_FEW_OUT_OF_ORDER = 0.01
_MOST_RESETS = 20
_SHORTEST_RUN = 20
_RESET_GAP_S = 1.0
_SEGMENT_GAP_S = 1.0
_SAME_SHARE = 0.5
_TIME_UNITS = (("ms", 1e-3), ("us", 1e-6), ("ns", 1e-9), ("s", 1.0), ("min", 60.0))


@dataclass(frozen=True, slots=True)
class TimeColumn:
    """A column of times: the file, its name there, the factor that took it to seconds, and its lines."""

    source: Source
    name: str
    factor: float
    line_of: LineOf

    def error(self, text: str) -> ReadError:
        """A ReadError that names file and column."""
        return self.source.error(f"column '{self.name}': {text}")


@dataclass(frozen=True, slots=True)
class TimedRows:
    """Increasing ``time_s`` (n,) and ``values`` (n, k) at them, nan where missing."""

    time_s: FloatArray
    values: FloatArray
    remarks: tuple[Remark, ...]


def timed_rows(time_s: FloatArray, values: FloatArray, column: TimeColumn) -> TimedRows:
    """Rows fit for a trace from times in seconds (n,) as they were read and the figures with them (n, k).

    Raises ReadError when the times cannot be those of a recording.
    """
    remarks: list[Remark] = []
    known = np.isfinite(time_s)
    if not known.all():
        time_s, values, rows = time_s[known], values[known], np.flatnonzero(known)
        remarks.append(
            Remark("missing-samples", f"{known.size - rows.size} rows without a time were left out.")
        )
    else:
        rows = np.arange(time_s.size)
    if time_s.size < 2:
        raise column.error(f"it holds {_counted(time_s.size, 'time')}; a recording needs many.")
    time_s, values = _in_order(time_s, values, rows, column, remarks)
    _check_rate(time_s, column)
    time_s = _on_even_clock(time_s, values, remarks)
    time_s, values = _merged(time_s, values, remarks)
    return TimedRows(time_s, values, tuple(remarks + gap_remarks(time_s)))


def even_times(count: int, rate_hz: float) -> FloatArray:
    """Times (n,) of samples taken at ``rate_hz``, from zero."""
    return np.arange(count) / rate_hz


def gap_remarks(time_s: FloatArray) -> list[Remark]:
    """One remark on the gaps in increasing times, the longest named."""
    found = gaps(time_s)
    if not found:
        return []
    longest = max(found, key=lambda gap: gap.length_s)
    return [Remark("gap", f"{_counted(len(found), 'gap')} in time; the longest lasts {longest.length_s:.3g} "
                          f"s, after {longest.start_s:.3f} s{_others(found, longest)}.")]  # fmt: skip


def _others(found: list[Gap], longest: Gap) -> str:
    others = [f"{gap.start_s:.3f} s" for gap in found if gap is not longest][:4]
    if not others:
        return ""
    more = len(found) - 1 - len(others)
    return "; others after " + ", ".join(others) + (f" and {more} more" if more else "")


def _in_order(
    time_s: FloatArray,
    values: FloatArray,
    rows: NDArray[np.intp],
    column: TimeColumn,
    remarks: list[Remark],
) -> tuple[FloatArray, FloatArray]:
    """Times that do not decrease: a few rows sorted, a restarted clock carried on, anything else refused."""
    back = np.flatnonzero(np.diff(time_s) < 0) + 1
    if back.size == 0:
        return time_s, values
    place = f"line {column.line_of(int(rows[back[0]]))}"
    if _is_restarted(time_s, back):
        time_s = time_s.copy()
        for start in back:
            time_s[start:] += time_s[start - 1] - time_s[start] + _RESET_GAP_S
        more = f" and {_counted(back.size - 1, 'time')} more" if back.size > 1 else ""
        text = f"The clock starts again at {place}{more}; what follows was put {_RESET_GAP_S:g} s later."
        remarks.append(Remark("clock-reset", text))
        return time_s, values
    order = np.argsort(time_s, kind="stable")
    moved = int(np.count_nonzero(order != np.arange(order.size)))
    if moved > max(_FEW_OUT_OF_ORDER * time_s.size, 4):
        raise column.error(_why_no_clock(time_s, rows, back, column))
    remarks.append(
        Remark(
            "unsorted-times", f"{moved} rows out of order in time (the first at {place}) were put in order."
        )
    )
    return time_s[order], values[order]


def _why_no_clock(
    time_s: FloatArray, rows: NDArray[np.intp], back: NDArray[np.intp], column: TimeColumn
) -> str:
    """What is wrong with times that go back at the rows ``back``, and what to do."""
    after = int(back[0])
    if back.size == 1 and after > 1 and time_s[after] >= time_s[after - 2]:
        leap = time_s[after - 1] / column.factor
        return (
            f"line {column.line_of(int(rows[after - 1]))}: {leap:.9g} is later than the rows after it, which "
            "go on from the row before. Mend or delete that line."
        )
    others = back.size - 1
    elsewhere = f" and in {others} other {'place' if others == 1 else 'places'}" if others else ""
    return (
        f"it goes back in time at line {column.line_of(int(rows[after]))}{elsewhere}, so it is not a clock "
        "that runs. Sort the rows by time, or choose another column (--columns time_s=NAME)."
    )


def _is_restarted(time_s: FloatArray, back: NDArray[np.intp]) -> bool:
    """Whether each fall in time (at the rows ``back``) goes to where the run before it began, or earlier."""
    starts = np.concatenate([[0], back])
    runs = np.diff(np.concatenate([starts, [time_s.size]]))
    restarts = time_s[back] <= time_s[starts[:-1]] + _RESET_GAP_S
    lasted = time_s[back - 1] - time_s[starts[:-1]] > _RESET_GAP_S
    # One time that leaps ahead is followed by a fall, but the clock goes on from the row before it.
    fell = time_s[back] < time_s[np.maximum(back - 2, 0)]
    return back.size <= _MOST_RESETS and bool(
        runs.min() >= _SHORTEST_RUN and (restarts & lasted & fell).all()
    )


def _check_rate(time_s: FloatArray, column: TimeColumn) -> None:
    """Refuse times whose steps are those of another unit."""
    steps = np.diff(time_s)
    moving = steps[steps > 0]
    if moving.size == 0:
        raise column.error("every row has the same time; choose the column of times (--columns time_s=NAME).")
    mostly_repeats = 2 * moving.size < steps.size
    step = float(steps.mean()) if mostly_repeats else float(np.median(moving))
    if _SLOWEST_HZ <= 1.0 / step <= _FASTEST_HZ:
        return
    low, high = _LIKELY_HZ
    likely = [unit for unit, size in _TIME_UNITS if low <= column.factor / (step * size) <= high]
    what = f"its steps are {step:.3g} s, which is {1 / step:.3g} samples a second"
    if not likely:
        raise column.error(f"{what}; choose the column of times (--columns time_s=NAME).")
    raise column.error(
        f"{what}; they look like {likely[0]}. Name the column time_{likely[0]} "
        f"(--columns time_{likely[0]}={column.name})."
    )


def _on_even_clock(time_s: FloatArray, values: FloatArray, remarks: list[Remark]) -> FloatArray:
    """Rounded times put back on their even clock, between long holes apart."""
    if _repeats_are_copies(time_s, values):
        return time_s
    holes = np.flatnonzero(np.diff(time_s) > _SEGMENT_GAP_S) + 1
    edges = [0, *(int(hole) for hole in holes), time_s.size]
    result, clock = time_s, None
    for start, end in pairwise(edges):
        found = regular_clock(time_s[start:end])
        if found is not None:
            result = time_s.copy() if result is time_s else result
            result[start:end], clock = found.time_s, found
    if clock is not None:
        remarks.append(Remark(
            "clock-regularised",
            f"The times are written in steps of {1000 * clock.tick_s:.4g} ms; they were put back on the even "
            f"clock of {1 / clock.step_s:.5g} Hz that they fit.",
        ))  # fmt: skip
    return result


def _repeats_are_copies(time_s: FloatArray, values: FloatArray) -> bool:
    """Whether rows of one time repeat or complete each other, rather than being samples of a coarse clock."""
    repeated = np.flatnonzero(np.diff(time_s) == 0)
    if repeated.size == 0:
        return False
    one, other = values[repeated], values[repeated + 1]
    agree = np.isnan(one) | np.isnan(other) | (one == other)
    return float(agree.all(axis=1).mean()) > _SAME_SHARE


def _merged(time_s: FloatArray, values: FloatArray, remarks: list[Remark]) -> tuple[FloatArray, FloatArray]:
    """One row for each time: the first of its rows, its missing cells filled from the others."""
    repeats = np.concatenate([[False], np.diff(time_s) == 0])
    if not repeats.any():
        return time_s, values
    first = np.maximum.accumulate(np.where(repeats, 0, np.arange(time_s.size)))
    values = values.copy()
    later = np.flatnonzero(repeats)[::-1]
    for column in values.T:
        known = later[np.isfinite(column[later])]
        filler = np.full(time_s.size, np.nan)
        filler[first[known]] = column[known]
        np.copyto(column, filler, where=np.isnan(column) & ~repeats)
    remarks.append(Remark(
        "repeated-times",
        f"{_counted(int(repeats.sum()), 'row')} with the time of the row before (the first at "
        f"{time_s[later[-1]]:.4f} s) were merged with it.",
    ))  # fmt: skip
    return time_s[~repeats], values[~repeats]


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
