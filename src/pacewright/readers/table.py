"""A text table opened for reading: what the readers of trajectories and of sensors share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import BinaryIO

import numpy as np

from pacewright.readers.checks import Limits, drop_impossible
from pacewright.readers.columns import Column
from pacewright.readers.layout import TableLayout, find_layout, is_comment
from pacewright.readers.numbers import read_numbers
from pacewright.readers.options import ReadOptions
from pacewright.readers.registry import HEAD_BYTES, Source
from pacewright.readers.text import decode_head, find_encoding
from pacewright.readers.times import TimeColumn, TimedRows, even_times, timed_rows

_LONGEST_HEAD_BYTES = 4 << 20
_FEWEST_LINES = 3


def read_head(stream: BinaryIO) -> bytes:
    """The first bytes of a file, after which ``stream`` is put back to its start.

    As many as the readers see by rule, and more where a text starts with so many comments or so long a
    line that its table does not show in them.
    """
    head = stream.read(HEAD_BYTES)
    while len(head) < _LONGEST_HEAD_BYTES and not _shows_lines(head):
        more = stream.read(7 * len(head))
        if not more:
            break
        head += more
    stream.seek(-len(head), 1)
    return head


def _shows_lines(head: bytes) -> bool:
    """Whether a few whole lines that are no comments are there; also when it is no text at all."""
    encoding = find_encoding(head)
    if encoding is None:
        return True
    lines = decode_head(head, encoding).splitlines()[:-1]
    return sum(bool(line.strip()) and not is_comment(line) for line in lines) >= _FEWEST_LINES


def open_layout(stream: BinaryIO, options: ReadOptions) -> TableLayout:
    """The layout of the table in ``stream``, which is put back to its start."""
    layout = find_layout(read_head(stream), options.delimiter, options.decimal)
    assert layout is not None, "a reader that knew the file by its layout finds it again"
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
