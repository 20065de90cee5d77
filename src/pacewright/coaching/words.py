"""Figures and counts as findings write them: no more digits than the uncertainty carries, and few at most."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from pacewright.core.display import decimals_for, format_number, format_putt_length_both
from pacewright.core.stroke import Stroke

Kind = Literal["time", "number", "percent"]
_FORMS: dict[Kind, tuple[str, int, int]] = {
    "time": (" s", 2, 3),
    "number": ("", 2, 2),
    "percent": (" %", 1, 1),
}
"""Unit, decimals where no uncertainty is known, and decimals at most."""


def figure(value: float, kind: Kind, sd: float = math.nan) -> str:
    """A figure with its uncertainty, which is left out where it is not known or too small to show.

    Times are in seconds, percents are figures out of a hundred.
    """
    unit, usual, most = _FORMS[kind]
    decimals = min(decimals_for(sd, usual), most)
    shown_sd = format_number(sd, decimals) if math.isfinite(sd) else "0"
    with_sd = f" ± {shown_sd}" if float(shown_sd) > 0.0 else ""
    return f"{format_number(value, decimals)}{with_sd}{unit}"


def putts_counted(strokes: Sequence[Stroke]) -> str:
    """``1 putt``, ``12 putts``."""
    return counted(len(strokes), "putt")


def counted(count: int, what: str) -> str:
    """``1 stroke``, ``2 strokes``."""
    return f"{count} {what}{'' if count == 1 else 's'}"


def putt_lengths(lengths_m: Sequence[float]) -> str:
    """Lengths of putts in words, shortest first: ``0.91 m (3 ft) and 9.14 m (30 ft)``."""
    return listed([format_putt_length_both(length) for length in sorted(lengths_m)])


def at_lengths(statement: str, lengths_m: Sequence[float]) -> str:
    """The statement, said of these lengths of putt only; as it is when there are none."""
    if not lengths_m:
        return statement
    return f"At {putt_lengths(lengths_m)} {statement[0].lower()}{statement[1:]}"


def listed(parts: Sequence[str]) -> str:
    """Parts joined for reading: ``a``, ``a and b``, ``a, b and c``."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} and {parts[-1]}"
