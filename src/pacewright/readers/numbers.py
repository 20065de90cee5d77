"""The numbers of a table, quickly when it is clean and tolerantly when it is not.

Clean blocks go through NumPy's compiled reader. A block that it does not take is read again row by row,
which knows missing cells and quotes, and names the row and the column of what is no number.
"""

from __future__ import annotations

import io
import re
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import BinaryIO

import numpy as np

from pacewright.core.measure import Remark
from pacewright.core.recording import FloatArray
from pacewright.readers.layout import BLANK, MISSING_WORDS, TableLayout, cell_value, is_comment
from pacewright.readers.options import ReadOptions
from pacewright.readers.registry import Source
from pacewright.readers.text import line_blocks

LEAVE_OUT = "leave bad rows out with drop_bad_rows (--read drop_bad_rows=yes on the command line)"
"""What else can be done about a row that cannot be read, for messages."""


@dataclass(slots=True)
class NumberTable:
    """``values`` (n, k), nan where missing, and from which line of the file each row came."""

    values: FloatArray
    bad_rows: list[int]
    _first_rows: list[int] = field(default_factory=list)
    _first_lines: list[int] = field(default_factory=list)

    def line_of(self, row: int) -> int:
        """Line of the file, from 1, of a row of the table."""
        k = bisect_right(self._first_rows, row) - 1
        return self._first_lines[k] + row - self._first_rows[k]

    def remarks(self) -> list[Remark]:
        """What was left out on request."""
        if not self.bad_rows:
            return []
        lines = ", ".join(str(line) for line in self.bad_rows[:5]) + (" …" if len(self.bad_rows) > 5 else "")
        return [
            Remark(
                "bad-rows", f"{len(self.bad_rows)} rows could not be read and were left out (lines {lines})."
            )
        ]


def read_numbers(
    stream: BinaryIO, layout: TableLayout, wanted: Sequence[int], source: Source, options: ReadOptions
) -> NumberTable:
    """The ``wanted`` columns (indices from 0), all rows, as the file has them.

    Raises ReadError with line and column at a cell that is no number and at a row with more or fewer
    cells than the header; ``options.drop_bad_rows`` leaves such rows out instead.
    """
    parser = _BlockParser(layout, tuple(wanted), source, options)
    for block, read_bytes in line_blocks(stream, layout.encoding):
        parser.take(block)
        if options.progress is not None:
            options.progress(min(read_bytes / max(source.size_bytes, 1), 1.0))
    return parser.table()


class _BlockParser:
    """Collects the rows of block after block and the lines where they stand."""

    def __init__(
        self, layout: TableLayout, wanted: tuple[int, ...], source: Source, options: ReadOptions
    ) -> None:
        self.layout, self.wanted, self.source, self.options = layout, wanted, source, options
        self.parts: list[FloatArray] = []
        self.rows = 0
        self.next_line = 1
        self.first_rows: list[int] = []
        self.first_lines: list[int] = []
        self.bad_rows: list[int] = []

    def take(self, block: bytes) -> None:
        """Read the rows of one block of whole lines."""
        block = self._skip_header(block)
        if not block:
            return
        lines = block.count(b"\n") + (not block.endswith(b"\n"))
        values = self._quick(block)
        if values is not None:
            self._keep(values, [self.next_line])
        else:
            self._tolerant(block)
        self.next_line += lines

    def table(self) -> NumberTable:
        """All rows read."""
        values = np.concatenate(self.parts) if self.parts else np.empty((0, len(self.wanted)))
        self.parts.clear()
        return NumberTable(values, self.bad_rows, self.first_rows, self.first_lines)

    def _skip_header(self, block: bytes) -> bytes:
        start = 0
        while self.next_line < self.layout.first_data_line:
            end = block.find(b"\n", start)
            if end < 0:
                self.next_line += start < len(block)
                return b""
            start, self.next_line = end + 1, self.next_line + 1
        return block[start:]

    def _keep(self, values: FloatArray, lines: list[int]) -> None:
        """Keep rows; ``lines`` are those of each row, or of the first where they follow one another."""
        for k, line in enumerate(lines):
            if k == 0 or line != lines[k - 1] + 1:
                self.first_rows.append(self.rows + k)
                self.first_lines.append(line)
        self.parts.append(values)
        self.rows += values.shape[0]

    def _quick(self, block: bytes) -> FloatArray | None:
        """The block by the compiled reader; None unless every line is a full row of numbers."""
        block = block.rstrip(b"\n")
        lines = block.count(b"\n") + 1
        block = block.replace(b'"', b"")
        separator = self.layout.separator.encode()
        if self.layout.separator != BLANK:
            cells = block.count(separator)
            if cells not in (lines * (self.layout.width - 1), lines * self.layout.width):
                return None
            block = _fill_empty(block, separator)
        if self.layout.decimal == ",":
            block = block.replace(b",", b".")
        values = self._loaded(block)
        if values is None:
            values = self._loaded(_name_missing(block, separator))
        return values if values is not None and values.shape[0] == lines else None

    def _loaded(self, block: bytes) -> FloatArray | None:
        """The wanted columns of a block of numbers (n, k); None when it is not that."""
        layout = self.layout
        is_blank = layout.separator == BLANK
        wants_all = is_blank or len(self.wanted) == layout.width
        try:
            values = np.loadtxt(
                io.BytesIO(block),
                delimiter=None if is_blank else layout.separator,
                usecols=None if wants_all else self.wanted,
                comments=None,
                ndmin=2,
                encoding="latin-1",
            )
        except (ValueError, IndexError):
            return None
        if wants_all:
            if values.shape[1] not in (layout.width, layout.width + 1):
                return None
            values = values[:, self.wanted]
        values[~np.isfinite(values)] = np.nan
        return values

    def _tolerant(self, block: bytes) -> None:
        """The block row by row."""
        rows: list[list[float]] = []
        lines: list[int] = []
        text = block.decode(
            "latin-1" if self.layout.encoding.codec == "latin-1" else "utf-8", errors="replace"
        )
        for offset, line in enumerate(text.split("\n")):
            if not line.strip() or is_comment(line):
                continue
            number = self.next_line + offset
            try:
                rows.append(self._row(line, number))
            except ValueError as fault:
                if not self.options.drop_bad_rows:
                    raise self.source.error(f"line {number}: {fault}") from None
                self.bad_rows.append(number)
                continue
            lines.append(number)
        if rows:
            self._keep(np.array(rows, dtype=np.float64), lines)

    def _row(self, line: str, number: int) -> list[float]:
        """The wanted numbers of a line; ValueError with the fault in words."""
        layout = self.layout
        cells = layout.cells(line)
        if len(cells) == layout.width + 1 and cells[-1] == "":
            cells.pop()
        if len(cells) != layout.width:
            what = "is cut off: it has" if len(cells) < layout.width else "has"
            against = "the header names" if layout.names else "other rows have"
            raise ValueError(
                f"the row {what} {len(cells)} cells where {against} {layout.width}. "
                f"Mend or delete that line, or {LEAVE_OUT}."
            )
        return [self._number(cells[index], index) for index in self.wanted]

    def _number(self, cell: str, index: int) -> float:
        value = cell_value(cell, self.layout.decimal)
        if value is None:
            shown = cell if len(cell) <= 30 else cell[:30] + "…"
            raise ValueError(
                f"{self.layout.place(index)}: '{shown}' is not a number. "
                f"Mend the cell, empty it if the figure is missing, or {LEAVE_OUT}."
            )
        return value


def _name_missing(block: bytes, separator: bytes) -> bytes:
    """The block with ``nan`` in every cell that says in another word that it is missing."""
    words = b"|".join(re.escape(word.encode()) for word in sorted(MISSING_WORDS, key=len, reverse=True))
    edge = rb"\s" if separator == BLANK.encode() else rb"\n" + re.escape(separator)
    return re.sub(rb"(?i)(?<![^%s]) *(?:%s) *(?![^%s])" % (edge, words, edge), b"nan", block)


def _fill_empty(block: bytes, separator: bytes) -> bytes:
    """The block with ``nan`` in every empty cell."""
    empty = separator + separator
    if empty in block:
        # Twice: a cell between two empty ones is met only on the second pass.
        block = block.replace(empty, separator + b"nan" + separator).replace(
            empty, separator + b"nan" + separator
        )
    if b"\n" + separator in block:
        block = block.replace(b"\n" + separator, b"\nnan" + separator)
    if separator + b"\n" in block:
        block = block.replace(separator + b"\n", separator + b"nan\n")
    if block.startswith(separator):
        block = b"nan" + block
    return block + b"nan" if block.endswith(separator) else block
