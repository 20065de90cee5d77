"""Tables of putts: one row a putt, columns named with their unit (`docs/methods/outcomes.md`)."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from pacewright.coaching.outcomes import holed_outcome, parse_outcome
from pacewright.core.errors import PacewrightError, ReadError
from pacewright.core.green import Green
from pacewright.core.measure import Measure, Remark
from pacewright.core.outcome import Outcome, Putt
from pacewright.core.registry import MEASURES
from pacewright.core.units import split_column_name
from pacewright.readers.text import decode_head, find_encoding

_LENGTHS = ("asked", "finish_along", "finish_across", "guess_along", "pace_left", "green_speed")
_PLAIN = ("beats_per_minute", "comfort")
_WORDS = ("holed", "finish", "block", "session", "phase")
_YES = frozenset({"1", "1.0", "yes", "y", "true", "holed", "in", "x"})
_NO = frozenset({"", "0", "0.0", "no", "n", "false", "-", "nan"})
_MISSING = frozenset({"", "nan", "na", "n/a", "null", "none", "-", "?"})
_SIGNED = frozenset({
    "impact_acceleration_m_s2", "impact_acceleration_index", "peak_speed_lead_s", "path_angle_deg",
    "smoothness_sparc", "top_pause_s",
})  # fmt: skip
PHASES = ("learning", "retention", "transfer")


@dataclass(frozen=True, slots=True)
class PuttTable:
    """The putts of a file, in its order, and remarks on what was not used."""

    source: str
    putts: tuple[Putt, ...]
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True)
class _Column:
    """Where a figure stands: its place in the row, factor to SI, and the file's own name for it."""

    index: int
    factor: float
    name: str


def read_putts(path: str | Path, *, needs: Sequence[str] = ()) -> PuttTable:
    """Read a table of putts; ``needs`` names further columns that must be there (``beats_per_minute``).

    Needed are the length asked and where the ball finished (``finish_along_m``, or ``finish`` in words such
    as +2ft). Other units by the ending of the name; a comma, semicolon or tab between the cells.
    Raises ReadError that names file, line and column.
    """
    path = Path(path)
    return parse_putts(path.read_bytes(), path.name, needs=needs)


def parse_putts(data: bytes, source: str, *, needs: Sequence[str] = ()) -> PuttTable:
    """As `read_putts`, from the bytes of a file called ``source``."""
    encoding = find_encoding(data)
    if encoding is None or not data.strip():
        raise ReadError(f"{source}: there is no table of putts in it; give a CSV file with a header.")
    text = decode_head(data, encoding)
    separator = _separator(text)
    rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, skipinitialspace=True))
    start = next((k for k, row in enumerate(rows) if not _is_blank(row)), len(rows))
    names = [cell.strip() for cell in rows[start]] if start < len(rows) else []
    columns, unused = _find_columns(names, source)
    _check_needed(columns, names, needs, source)
    decimal_comma = separator == ";"
    putts: list[Putt] = []
    for number, row in enumerate(rows[start + 1 :], start + 2):
        if _is_blank(row):
            continue
        try:
            putts.append(_putt(_Row([cell.strip() for cell in row], columns, decimal_comma)))
        except PacewrightError as error:
            raise ReadError(f"{source}: line {number}: {error}") from None
    if not putts:
        raise ReadError(f"{source}: there is a header but no putt under it.")
    return PuttTable(source, tuple(putts), _remarks(unused))


def _separator(text: str) -> str:
    head = next(
        (line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")), ""
    )
    return max((",", ";", "\t"), key=head.count)


def _is_blank(row: Sequence[str]) -> bool:
    return not any(cell.strip() for cell in row) or row[0].lstrip().startswith("#")


def _remarks(unused: Sequence[str]) -> tuple[Remark, ...]:
    if not unused:
        return ()
    names = ", ".join(f"'{name}'" for name in unused)
    return (Remark("unused-columns", f"Columns that are not used here: {names}."),)


def _find_columns(names: Sequence[str], source: str) -> tuple[dict[str, _Column], list[str]]:
    """Columns by what they hold (`asked`, `backswing_length_m`, `backswing_length_m sd`), and the others."""
    found: dict[str, _Column] = {}
    unused: list[str] = []
    for index, name in enumerate(names):
        told = _meaning(name)
        if told is None:
            unused.extend([name] if name else [])
            continue
        target, factor = told
        if target in found:
            raise ReadError(
                f"{source}: columns '{found[target].name}' and '{name}' hold the same thing; keep one."
            )
        found[target] = _Column(index, factor, name)
    return found, unused


def _meaning(name: str) -> tuple[str, float] | None:
    """What a column of that name holds, and its factor to SI; the uncertainty of x is called ``x sd``."""
    lowered = name.strip().lower()
    is_sd = lowered.endswith("_sd")
    target = _target(lowered.removesuffix("_sd"))
    if target is None and (split := split_column_name(lowered)) and split[0].endswith("_sd"):
        is_sd = True
        target = _target(split[0].removesuffix("_sd") + lowered[len(split[0]) :])
    if target is None:
        return None
    what, factor = target
    if is_sd:
        return (f"{what} sd", factor) if what in MEASURES or what == "finish_along" else None
    return what, factor


def _target(name: str) -> tuple[str, float] | None:
    if name in _WORDS or name in _PLAIN:
        return name, 1.0
    split = split_column_name(name)
    if split is None:
        return (name, 1.0) if name in MEASURES and MEASURES[name].unit == "" else None
    base, dimension, factor = split
    if base in _LENGTHS and dimension == "length":
        return base, factor
    for measure in MEASURES:
        own = split_column_name(measure)
        if own is not None and (own[0], own[1]) == (base, dimension):
            return measure, factor / own[2]
    return None


def _check_needed(
    columns: Mapping[str, _Column], names: Sequence[str], needs: Sequence[str], source: str
) -> None:
    there = ", ".join(f"'{name}'" for name in names if name) or "none"
    if "asked" not in columns:
        raise ReadError(f"{source}: there is no column asked_m, the length of each putt; it has {there}.")
    if not {"finish_along", "finish"} & set(columns):
        raise ReadError(
            f"{source}: there is no column finish_along_m (the roll-out along the line), nor finish in words "
            f"such as +2ft; it has {there}."
        )
    for need in needs:
        if need not in columns:
            raise ReadError(f"{source}: there is no column {need}; it has {there}.")


@dataclass(frozen=True, slots=True)
class _Row:
    """The cells of one row and what its columns hold."""

    cells: list[str]
    columns: Mapping[str, _Column]
    decimal_comma: bool

    def word(self, target: str) -> str:
        """The cell as it is written, empty when there is no such column or the row is short."""
        column = self.columns.get(target)
        return self.cells[column.index] if column is not None and column.index < len(self.cells) else ""

    def figure(self, target: str) -> float | None:
        """The figure in SI, None where it is missing. Raises ReadError that names the column."""
        word = self.word(target)
        if word.lower() in _MISSING:
            return None
        column = self.columns[target]
        try:
            value = float(word.replace(",", ".") if self.decimal_comma else word) * column.factor
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise ReadError(
                f"column '{column.name}': '{word[:30]}' is not a number; leave it empty if it is missing."
            )
        return value

    def known(self, target: str, is_fit: Callable[[float], bool], wanted: str) -> float | None:
        """A figure that must be ``is_fit``; the message says what is ``wanted``."""
        value = self.figure(target)
        if value is not None and not is_fit(value):
            column = self.columns[target]
            raise ReadError(f"column '{column.name}': {self.word(target)} makes no sense; {wanted}.")
        return value


def _putt(row: _Row) -> Putt:
    asked = row.known("asked", lambda x: x > 0.0, "the length asked is above 0")
    if asked is None:
        raise ReadError(f"column '{row.columns['asked'].name}': the length asked is missing.")
    green = row.figure("green_speed")
    phase = row.word("phase").lower()
    if phase and phase not in PHASES:
        raise ReadError(f"column 'phase': '{phase[:30]}' is none of {', '.join(PHASES)}.")
    return Putt(
        asked_m=asked,
        outcome=_outcome(row, asked),
        guess_along_m=row.known("guess_along", lambda x: x > 0.0, "a guessed roll-out is above 0"),
        block=row.word("block"),
        session=row.word("session"),
        phase=phase,
        beats_per_minute=row.known("beats_per_minute", lambda x: x > 0.0, "beats a minute are above 0"),
        comfort=row.known("comfort", lambda x: 1.0 <= x <= 5.0, "comfort runs from 1 to 5"),
        measures=_measures(row),
        green=Green(green) if green is not None else None,
    )


def _outcome(row: _Row, asked_m: float) -> Outcome:
    words = row.word("finish")
    across = row.figure("finish_across")
    along = row.known("finish_along", lambda x: x > 0.0, "the roll-out is above 0")
    sd = row.known("finish_along sd", lambda x: x >= 0.0, "an uncertainty is not below 0") or 0.0
    if along is None and words.lower() not in _MISSING:
        spoken = parse_outcome(words, asked_m)
        return Outcome(spoken.along_m, across, spoken.holed, sd)
    if _is_holed(row):
        left = row.known("pace_left", lambda x: x >= 0.0, "the pace left is not below 0")
        return holed_outcome(asked_m, asked_m + left if left is not None else along, across)
    if along is None:
        name = row.columns["finish_along" if "finish_along" in row.columns else "finish"].name
        raise ReadError(f"column '{name}': the finish is missing; mark the putt as holed, or delete the row.")
    return Outcome(along, across, False, sd)


def _is_holed(row: _Row) -> bool:
    word = row.word("holed").lower()
    if word not in _YES | _NO:
        raise ReadError(f"column '{row.columns['holed'].name}': '{word[:30]}' is neither yes nor no.")
    return word in _YES


def _measures(row: _Row) -> dict[str, Measure]:
    measures = {}
    for name in MEASURES:
        if name not in row.columns:
            continue
        value = row.figure(name) if name in _SIGNED else row.known(name, lambda x: x > 0.0, "it is above 0")
        sd = row.known(f"{name} sd", lambda x: x >= 0.0, "an uncertainty is not below 0")
        if value is not None:
            measures[name] = Measure(value, sd if sd is not None else math.nan, "table")
    return measures
