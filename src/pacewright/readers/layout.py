"""How a table of numbers is written: separator, decimal mark, header, and where the data start.

Found from the first lines of the file: the separator and decimal mark under which most of them are rows
of numbers of one width; the header is the last line above them that is not itself numbers.
"""

from __future__ import annotations

import csv
import math
import re
from collections import Counter
from dataclasses import dataclass, replace
from functools import lru_cache
from statistics import median

from pacewright.readers.text import Encoding, decode_head, find_encoding

BLANK = " "
"""The separator that means any run of blanks."""

_SEPARATORS = (",", ";", "\t", "|", BLANK)
_SEPARATOR_NAMES = {"tab": "\t", "\\t": "\t", "space": BLANK, "comma": ",", "semicolon": ";", "pipe": "|"}
_COMMENT = re.compile(r"^\s*(?:#|%|//)\s?")
_NUMBER = re.compile(r"^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eEdD][+-]?\d+)?$")
MISSING_WORDS = frozenset(
    {"nan", "na", "n/a", "null", "none", "-", "--", "?", ".", "#n/a", "-nan", "missing"}
)
"""Words, in small letters, for a figure that is missing; an empty cell says the same."""

_INFINITE = frozenset(
    {"inf", "-inf", "+inf", "infinity", "-infinity", "∞", "-∞", "1.#inf", "-1.#inf", "1.#qnan", "-1.#ind"}
)
_PROBED_LINES = 60
_LEAST_NUMERIC_SHARE = 0.5
_UNITS_SEEN = frozenset(
    {"s", "ms", "m", "mm", "cm", "in", "ft", "g", "rad/s", "deg/s", "°/s", "dps", "m/s²", "m/s^2", "m/s2"}
)


@dataclass(frozen=True, slots=True)
class TableLayout:
    """A table in a text. ``names`` is empty when there is no header; ``width`` the number of columns;
    ``header_line`` and ``first_data_line`` count from 1.
    """

    encoding: Encoding
    separator: str
    decimal: str
    names: tuple[str, ...]
    width: int
    header_line: int
    first_data_line: int

    def cells(self, line: str) -> list[str]:
        """The cells of a line, without quotes and blanks around them."""
        return split_cells(line, self.separator)

    def place(self, index: int) -> str:
        """A column for messages: its name, or its number when there is no header."""
        if index < len(self.names) and self.names[index]:
            return f"column '{self.names[index]}'"
        return f"column {index + 1}"


def split_cells(line: str, separator: str) -> list[str]:
    """Cells of one line under ``separator``; quotes may hold the separator."""
    line = line.strip("\n\r\f")
    if separator == BLANK:
        line = line.strip()
        if '"' not in line:
            return line.split()
        return [cell for cell in next(csv.reader([line.replace("\t", " ")], delimiter=" ")) if cell]
    if '"' not in line:
        return [cell.strip() for cell in line.split(separator)]
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=separator, skipinitialspace=True))]
    except csv.Error:
        return [cell.strip() for cell in line.split(separator)]


def is_comment(line: str) -> bool:
    """Whether a line of the file is a comment."""
    return _COMMENT.match(line) is not None


def cell_value(cell: str, decimal: str) -> float | None:
    """The number in a cell: nan for a missing or infinite one, None for what is no number."""
    if decimal == ",":
        cell = cell.replace(",", ".")
    if _NUMBER.match(cell):
        value = float(cell.replace("d", "e").replace("D", "e"))
        return value if math.isfinite(value) else math.nan
    lowered = cell.lower()
    return math.nan if not lowered or lowered in MISSING_WORDS or lowered in _INFINITE else None


@lru_cache(maxsize=8)
def find_layout(head: bytes, separator: str | None = None, decimal: str | None = None) -> TableLayout | None:
    """The layout of the table whose first bytes these are; None when there is no table of numbers."""
    encoding = find_encoding(head)
    if encoding is None:
        return None
    lines = decode_head(head, encoding).replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if len(lines) > 1 and len(head) >= 60_000:
        lines = lines[:-1]  # the last line may be cut
    chosen = _SEPARATOR_NAMES.get(separator.lower(), separator) if separator else None
    separators = (chosen,) if chosen else _SEPARATORS
    best: tuple[tuple[float, ...], TableLayout] | None = None
    for candidate in separators:
        for mark in (decimal,) if decimal else (".", ","):
            found = _layout_under(lines, candidate, mark, encoding)
            if found is not None and (best is None or found[0] > best[0]):
                best = found
    return best[1] if best else None


def _layout_under(
    lines: list[str], separator: str, decimal: str, encoding: Encoding
) -> tuple[tuple[float, ...], TableLayout] | None:
    """The table under one separator and decimal mark, and how good that reading is."""
    written = [
        (number, line) for number, line in enumerate(lines, 1) if line.strip() and not is_comment(line)
    ]
    probed = [split_cells(line, separator) for _, line in written[-_PROBED_LINES:]]
    widths = Counter(len(cells) for cells in probed if _is_data(cells, decimal))
    if not widths:
        return None
    width = max(widths, key=lambda w: (widths[w], w))
    usual_share = median(_numeric_share(cells, decimal) for cells in probed if len(cells) == width)
    above: list[tuple[int, list[str]]] = []
    for number, line in written:
        cells = split_cells(line, separator)
        if len(cells) == width and _numeric_share(cells, decimal) >= max(usual_share, _LEAST_NUMERIC_SHARE):
            break
        above.append((number, cells))
    else:
        return None
    layout = _with_header(TableLayout(encoding, separator, decimal, (), width, 0, number), lines, above)
    numeric = sum(_numeric_share(cells, decimal) for cells in probed) / len(probed)
    named = int(width - len(layout.names) in (0, 1))
    return (round(numeric, 3), named, min(width, 2), int(decimal == "."), width), layout


def _numeric_share(cells: list[str], decimal: str) -> float:
    """Share of the cells that are numbers or missing; 0 when none is a number."""
    values = [cell_value(cell, decimal) for cell in cells]
    if not any(value is not None and value == value for value in values):
        return 0.0
    return sum(value is not None for value in values) / len(values)


def _is_data(cells: list[str], decimal: str) -> bool:
    return _numeric_share(cells, decimal) >= _LEAST_NUMERIC_SHARE


def _with_header(layout: TableLayout, lines: list[str], above: list[tuple[int, list[str]]]) -> TableLayout:
    """The layout with the names from the lines above the data, and the data start at the line after them.

    A line in which some cell is a number is a row with a fault, not a header. A line of units may
    stand between the names and the data.
    """
    worded = [
        (number, cells)
        for number, cells in above
        if not any(_NUMBER.match(cell) for cell in cells) and 2 * len(cells) >= layout.width
    ]
    if not worded:
        return _with_comment_header(layout, lines)
    number, cells = worded[-1]
    if layout.separator == BLANK and len(cells) != layout.width:
        # Names of several words, set apart by two blanks or more.
        apart = re.split(r"\s{2,}|\t", lines[number - 1].strip())
        cells = apart if len(apart) == layout.width else cells
    units: list[str] = []
    if len(worded) > 1 and _looks_like_units(cells) and len(worded[-2][1]) == len(cells):
        units, cells = [cell.strip("()[]") for cell in cells], worded[-2][1]
    names = [cell.strip("'") for cell in cells]
    if units:
        names = [f"{name} ({unit})" if unit else name for name, unit in zip(names, units, strict=True)]
    while names and names[-1] == "":
        names.pop()
    first = next((later for later, _ in above if later > number), layout.first_data_line)
    return replace(layout, names=tuple(names), width=len(names), header_line=number, first_data_line=first)


def _looks_like_units(cells: list[str]) -> bool:
    """Whether a line holds units (``s``, ``(mm)``) rather than names."""
    bare = [cell.strip("()[]").lower() for cell in cells]
    return all(len(unit) <= 7 for unit in bare) and 2 * sum(u in _UNITS_SEEN for u in bare) >= len(bare)


def _with_comment_header(layout: TableLayout, lines: list[str]) -> TableLayout:
    """Names from the last comment line above the data that is as wide as they are."""
    for number in range(layout.first_data_line - 1, 0, -1):
        line = lines[number - 1]
        if not is_comment(line):
            continue
        cells = split_cells(_COMMENT.sub("", line), layout.separator)
        if len(cells) == layout.width and not any(_NUMBER.match(cell) for cell in cells):
            return replace(layout, names=tuple(cells), header_line=number)
    return layout
