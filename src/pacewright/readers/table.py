"""A text table opened for reading: what the readers of trajectories and of sensors share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import BinaryIO

import numpy as np

from pacewright.readers.checks import Limits, drop_impossible
from pacewright.readers.columns import Column
from pacewright.readers.layout import TableLayout, find_layout
from pacewright.readers.numbers import read_numbers
from pacewright.readers.options import ReadOptions
from pacewright.readers.registry import HEAD_BYTES, Source
from pacewright.readers.times import TimeColumn, TimedRows, even_times, timed_rows


def open_layout(stream: BinaryIO, source: Source, options: ReadOptions) -> TableLayout:
    """The layout of the table in ``stream``, which is put back to its start."""
    head = stream.read(HEAD_BYTES)
    stream.seek(-len(head), 1)
    layout = find_layout(head, options.delimiter, options.decimal)
    if layout is None:
        raise source.error(
            "there is no table of numbers in it; see `delimiter` and `decimal` if there should be."
        )
    return layout


def read_timed(
    stream: BinaryIO, layout: TableLayout, columns: Mapping[str, Column], limits: Sequence[Limits],
    source: Source, options: ReadOptions,
) -> TimedRows:  # fmt: skip
    """The figures of ``columns`` in SI (time apart), in their order, at increasing times.

    ``limits`` has one entry for each of them: what is beyond is left out with a remark.

    Raises ReadError when the file has no time and no rate was given, or when it holds no row.
    """
    time = columns.get("time") if options.rate_hz is None else None
    if time is None and options.rate_hz is None:
        raise source.error(
            "there is no column of times. Name it time_s, map it (--columns time_s=NAME), or give the "
            "sampling rate (--rate)."
        )
    figures = [column for target, column in columns.items() if target != "time"]
    wanted = [*figures, time] if time is not None else figures
    table = read_numbers(stream, layout, [column.index for column in wanted], source, options)
    if table.values.shape[0] == 0:
        raise source.error("there is a header but no row of figures under it.")
    table.values *= np.array([column.factor for column in wanted])
    values = table.values[:, : len(figures)]
    remarks = drop_impossible(values, figures, limits, source, table.line_of) + table.remarks()
    if time is None:
        assert options.rate_hz is not None
        return TimedRows(even_times(values.shape[0], options.rate_hz), values, tuple(remarks))
    timed = timed_rows(table.values[:, -1], values, TimeColumn(source, time.name, time.factor, table.line_of))
    return TimedRows(timed.time_s, timed.values, (*remarks, *timed.remarks))
