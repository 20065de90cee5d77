"""TRC motion capture: a text table with three columns for each marker under a header of five lines."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import BinaryIO

import numpy as np

from pacewright.core.errors import SettingsError
from pacewright.core.recording import Recording
from pacewright.core.units import factor_to_si
from pacewright.readers.layout import TableLayout, cell_value, split_cells
from pacewright.readers.markers import MarkerSet, marker_recording
from pacewright.readers.numbers import read_numbers
from pacewright.readers.options import ReadOptions
from pacewright.readers.registry import HEAD_BYTES, Source
from pacewright.readers.text import decode_head, find_encoding
from pacewright.readers.times import TimeColumn, timed_rows

_FILE_TYPE = "pathfiletype"
_MOST_HEADER_LINES = 12
_LONGEST_HEADER_BYTES = 1 << 20


class TrcReader:
    """Motion capture in the TRC format: the head's marker, and the ball's where there is one."""

    name = "trc"

    def recognises(self, head: bytes, options: ReadOptions) -> float:
        """Sure by the word that the format starts with."""
        return (
            1.0 if head[:40].lstrip(b"\xef\xbb\xbf \t\r\n").lower().startswith(_FILE_TYPE.encode()) else 0.0
        )

    def read(self, stream: BinaryIO, source: Source, options: ReadOptions) -> Recording:
        """The head's marker along the target line."""
        header = _header(stream, source)
        columns = range(1, header.layout.width)
        table = read_numbers(stream, header.layout, columns, source, options)
        if table.values.shape[0] < 2:
            raise source.error(f"it holds {table.values.shape[0]} frames; nothing was recorded.")
        frames = table.values.shape[0]
        time_s, places = table.values[:, 0], table.values[:, 1:] * header.factor
        if options.rate_hz is not None:
            time_s = np.arange(frames) / options.rate_hz
        timed = timed_rows(time_s, places, TimeColumn(source, "Time", 1.0, table.line_of))
        xyz = timed.values.reshape(timed.time_s.size, len(header.labels), 3).copy()
        xyz[~np.isfinite(xyz).all(axis=2)] = np.nan
        markers = MarkerSet(header.labels, timed.time_s, xyz, "y", (*table.remarks(), *timed.remarks))
        return marker_recording(markers, self.name, source, options)


@dataclass(frozen=True, slots=True)
class _Header:
    labels: tuple[str, ...]
    factor: float
    layout: TableLayout


def _header(stream: BinaryIO, source: Source) -> _Header:
    """Markers, unit and layout of the table from the lines above it; the stream is put back to its start."""
    head = stream.read(_LONGEST_HEADER_BYTES)
    stream.seek(-len(head), 1)
    encoding = find_encoding(head[:HEAD_BYTES])
    if encoding is None:
        raise source.error("the file starts like TRC, but is no text.")
    lines = (
        decode_head(head, encoding).replace("\r\n", "\n").replace("\r", "\n").split("\n")[:_MOST_HEADER_LINES]
    )
    keys_line = next((k for k, line in enumerate(lines) if "units" in line.lower().split()), None)
    names_line = next((k for k, line in enumerate(lines) if line.lower().startswith("frame#")), None)
    if keys_line is None or names_line is None or keys_line + 1 >= len(lines):
        raise source.error(
            "the header of a TRC file (DataRate … Units, and Frame# Time MARKERS) is not complete."
        )
    said = dict(zip(lines[keys_line].lower().split(), lines[keys_line + 1].split(), strict=False))
    try:
        factor = factor_to_si(said.get("units", "mm"), "length")
    except SettingsError as error:
        raise source.error(f"line {keys_line + 2}: {error}") from error
    labels = tuple(cell for cell in split_cells(lines[names_line], "\t")[2:] if cell)
    first = next((k for k in range(names_line + 1, len(lines)) if _is_row(lines[k])), None)
    if first is None or not labels:
        raise source.error(f"line {names_line + 1}: there are {len(labels)} markers and no frame under them.")
    names = ("Frame#", "Time", *(f"{label} {axis}" for label in labels for axis in "XYZ"))
    layout = TableLayout(encoding, "\t", ".", names, len(names), names_line + 1, first + 1)
    return _Header(labels, factor, replace(layout, decimal=_decimal(lines[first])))


def _is_row(line: str) -> bool:
    cells = split_cells(line, "\t")
    return len(cells) > 2 and cell_value(cells[0], ".") is not None and bool(cells[0])


def _decimal(line: str) -> str:
    return "," if "," in line and "." not in line else "."
