"""What a column holds, from its name: `head_x_mm`, `Gyroscope X (deg/s)`, `t(s)`, `accX [g]`.

The unit is the ending of the name or stands in brackets; the words before it say what was measured. A
mapping by option goes before all of that.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from pacewright.core.errors import SettingsError
from pacewright.core.registry import EVENTS
from pacewright.core.units import factor_to_si, split_column_name
from pacewright.readers.layout import TableLayout
from pacewright.readers.registry import Source

TARGETS: dict[str, str] = {
    "time": "time",
    "head_x": "length", "head_y": "length", "head_z": "length", "head_angle": "angle",
    "ball_x": "length", "ball_y": "length",
    "gyro_x": "angular_rate", "gyro_y": "angular_rate", "gyro_z": "angular_rate",
    "accel_x": "acceleration", "accel_y": "acceleration", "accel_z": "acceleration",
    "takeaway": "time", "top": "time", "impact": "time", "finish": "time",
    "backswing_time": "time", "downswing_time": "time", "follow_through_time": "time",
    "timing_sd": "time", "asked_length": "length",
    "backswing_length": "length", "follow_through_length": "length", "roll_out": "length",
    "rehearsal": "", "kind": "",
}  # fmt: skip
"""Everything that a column can hold, without its unit, and the dimension of it ("" for words)."""

_OTHER_NAMES = {f"{event}_time": event for event in EVENTS}
"""Names under which our own tables of strokes hold the times of events."""

_SI_UNIT = {"time": "s", "length": "m", "angle": "rad", "angular_rate": "rad_s", "acceleration": "m_s2"}
_BRACKETED = re.compile(r"^(.*?)[\s_]*[(\[{]\s*([^)\]}]*?)\s*[)\]}]\s*$")
_SLASHED = re.compile(r"^(.*?)\s+/\s*(\S+)$")
_WORD = re.compile(r"[A-Z]?[a-zµ]+|[A-Z]+(?![a-z])|\d+")

_TIME_WORDS = frozenset({"time", "t", "timestamp", "timestamps", "elapsed", "seconds", "clock"})
_THING_WORDS: dict[str, tuple[str, frozenset[str]]] = {
    "head": ("length", frozenset({"head", "putter", "putterhead", "club", "clubhead"})),
    "ball": ("length", frozenset({"ball"})),
    "gyro": ("angular_rate", frozenset({
        "gyro", "gyroscope", "gyr", "angular", "velocity", "rate", "rotation", "turn", "turning", "omega",
        "g", "w",
    })),
    "accel": ("acceleration", frozenset({"accel", "accelerometer", "acc", "acceleration", "a"})),
}  # fmt: skip
_FILLERS = frozenset(
    {"position", "pos", "place", "raw", "cal", "calibrated", "axis", "sensor", "imu", "data", "mean"}
)
_SIMPLER_DIMENSIONS = ("acceleration", "angular_rate", "length", "time", "angle")


@dataclass(frozen=True, slots=True)
class Column:
    """One column put to use: its place in the file and the factor that takes it to SI."""

    target: str
    index: int
    factor: float
    name: str


def meaning(name: str) -> tuple[str, float] | None:
    """What a column of that name holds and the factor to SI; None when the name does not tell.

    Only time may go without a unit; it is in seconds then.
    """
    for words, units in _split_unit(name):
        for dimension, factor in units.items():
            target = _target_of(words, dimension)
            if target is not None:
                return target, factor
    return ("time", 1.0) if _target_of(name, "time") == "time" else None


def _split_unit(name: str) -> list[tuple[str, dict[str, float]]]:
    """Ways to split a name into words and a unit, the unit as {dimension: factor}."""
    ways: list[tuple[str, dict[str, float]]] = []
    known = split_column_name(name)
    if known is not None:
        ways.append((name.strip()[: len(known[0])], {known[1]: known[2]}))
    for pattern in (_BRACKETED, _SLASHED):
        match = pattern.match(name)
        ways.extend([(match[1], _units(match[2]))] if match else [])
    words, _, last = name.strip().rpartition("_")
    if words:
        ways.append((words, _units(last)))
    return ways


def _units(text: str) -> dict[str, float]:
    found: dict[str, float] = {}
    text = re.sub(
        r"\s*(?:/|per)\s*", "/", text.strip().replace("²", "2").replace("^2", "2").replace("sec", "s")
    )
    for dimension in _SIMPLER_DIMENSIONS:
        try:
            found[dimension] = factor_to_si(text, dimension)
        except SettingsError:
            continue
    return found


def _target_of(words: str, dimension: str) -> str | None:
    """The target that these words name, if it is of that dimension."""
    plain = "_".join(part.lower() for part in _WORD.findall(words))
    plain = _OTHER_NAMES.get(plain, plain)
    if TARGETS.get(plain) == dimension:
        return plain
    tokens = [token for token in plain.split("_") if token and token not in _FILLERS]
    if not tokens:
        return None
    if dimension == "time":
        return "time" if set(tokens) <= _TIME_WORDS else None
    axis = tokens[-1][-1]
    stem = tokens[-1][:-1]
    if axis not in "xyz":
        return None
    rest = {*tokens[:-1], stem} - {""}
    for thing, (thing_dimension, known) in _THING_WORDS.items():
        if dimension == thing_dimension and rest and rest <= known:
            return f"{thing}_{axis}"
    return None


def mapped_target(ours: str) -> tuple[str, float | None]:
    """The target that our name in a mapping means, and the factor its ending gives (None without one).

    Raises SettingsError when it is none of ours.
    """
    lowered = ours.strip().lower()
    if (target := _OTHER_NAMES.get(lowered, lowered)) in TARGETS:
        return target, None
    found = split_column_name(lowered)
    if found is not None and TARGETS.get(target := _OTHER_NAMES.get(found[0], found[0])) == found[1]:
        return target, found[2]
    names = ", ".join(f"{target}_{_SI_UNIT[d]}" if d else target for target, d in TARGETS.items())
    raise SettingsError(
        f"'{ours}' is not a name of a column that can be mapped; use one of {names} "
        "(other units by their ending)."
    )


def wanted_targets(layout: TableLayout, mapping: Mapping[str, str]) -> set[str]:
    """Everything that the file or the mapping offers, without raising (for telling the readers apart)."""
    offered = {found[0] for name in layout.names if (found := meaning(name)) is not None}
    for ours in mapping:
        offered.add(mapped_target(ours)[0])
    return offered | {
        name.strip().lower() for name in layout.names if TARGETS.get(name.strip().lower()) == ""
    }


def find_columns(
    layout: TableLayout, mapping: Mapping[str, str], targets: Iterable[str], source: Source
) -> dict[str, Column]:
    """The file's column for each of ``targets`` that it has.

    Raises ReadError when two columns are the same thing, or a mapped column is not in the file.
    """
    targets = tuple(targets)
    found = _mapped_columns(layout, mapping, targets, source)
    mapped = set(found)
    for index, name in enumerate(layout.names):
        told = meaning(name) or _words(name)
        if told is None or told[0] not in targets or told[0] in mapped:
            continue
        column = Column(told[0], index, told[1], name)
        first = found.setdefault(column.target, column)
        if first is column or (_tells_no_unit(name) and not _tells_no_unit(first.name)):
            continue
        if _tells_no_unit(first.name) and not _tells_no_unit(name):
            found[column.target] = column
            continue
        raise source.error(
            f"line {layout.header_line}: columns {first.index + 1} ('{first.name}') and {index + 1} "
            f"('{name}') both hold {column.target}. Rename one, or choose, such as "
            f"--columns {target_name(column.target)}={first.index + 1}."
        )
    return found


def _mapped_columns(
    layout: TableLayout, mapping: Mapping[str, str], targets: tuple[str, ...], source: Source
) -> dict[str, Column]:
    found: dict[str, Column] = {}
    for ours, theirs in mapping.items():
        target, factor = mapped_target(ours)
        if target not in targets:
            continue
        if target in found:
            raise source.error(f"'{ours}' and another name in the mapping both mean {target}; keep one.")
        found[target] = _mapped(layout, target, factor, ours, theirs, source)
    return found


def _tells_no_unit(name: str) -> bool:
    """Whether a column of time leaves its unit to be guessed; one that tells it goes before."""
    tells = any("time" in units for _, units in _split_unit(name)) or "second" in name.lower()
    return not tells and _target_of(name, "time") == "time"


def target_name(target: str) -> str:
    """The target with the ending of its SI unit, as our own files write it."""
    dimension = TARGETS[target]
    return f"{target}_{_SI_UNIT[dimension]}" if dimension else target


def _words(name: str) -> tuple[str, float] | None:
    lowered = name.strip().lower()
    return (lowered, 1.0) if TARGETS.get(lowered) == "" else None


def _mapped(
    layout: TableLayout, target: str, factor: float | None, ours: str, theirs: str, source: Source
) -> Column:
    index = _index_of(layout, theirs, ours, source)
    name = layout.names[index] if index < len(layout.names) else str(index + 1)
    dimension = TARGETS[target]
    if factor is None and dimension:
        factor = next((units[dimension] for _, units in _split_unit(name) if dimension in units), None)
        if factor is None and target != "time":
            raise source.error(
                f"column '{name}' has no unit of {dimension} in its name; write the unit into the mapping, "
                f"such as {target_name(target)}={theirs}."
            )
    return Column(target, index, factor if factor is not None else 1.0, name)


def _index_of(layout: TableLayout, theirs: str, ours: str, source: Source) -> int:
    wanted = theirs.strip().lower()
    same = [k for k, name in enumerate(layout.names) if name.strip().lower() == wanted]
    exact = [k for k in same if layout.names[k].strip() == theirs.strip()]
    matches = exact or same
    if len(matches) > 1:
        numbers = " and ".join(str(k + 1) for k in matches)
        raise source.error(
            f"columns {numbers} are both called '{theirs}'; map {ours} by the column's number."
        )
    if matches:
        return matches[0]
    if wanted.isdigit() and 1 <= int(wanted) <= layout.width:
        return int(wanted) - 1
    there = ", ".join(f"'{name}'" for name in layout.names) or f"no names, {layout.width} columns"
    raise source.error(f"there is no column '{theirs}' to use as {ours}; the file has {there}.")
