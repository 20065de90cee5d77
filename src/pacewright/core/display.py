"""Figures for people: metric or imperial, and no more digits than the uncertainty carries.

A standard uncertainty is written with one significant digit, or two when it starts with 1 (0.013, 0.4), and
the value with the same number of decimals. Where no uncertainty is known the decimals are those of
`DisplayUnit.decimals`. `report`, `strip` and the tables of the command line all write figures through here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from pacewright.core.errors import SettingsError
from pacewright.core.measure import Measure
from pacewright.core.registry import MEASURES
from pacewright.core.units import FOOT_M, INCH_M

Units = Literal["metric", "imperial"]
Quantity = Literal[
    "time", "stroke_length", "putt_length", "speed", "acceleration", "angle", "number"
]  # fmt: skip
"""Stroke lengths are a hand's breadth (cm or in); putts and roll-outs are walked (m or ft)."""

MISSING = "–"


@dataclass(frozen=True, slots=True)
class DisplayUnit:
    """A unit as people read it: ``symbol``, its size in SI, and decimals where no uncertainty is known."""

    symbol: str
    size_si: float
    decimals: int


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure as text. ``sd`` is empty where the uncertainty is not known; ``value`` is – when missing."""

    value: str
    sd: str
    unit: str

    @property
    def plain(self) -> str:
        """Value and unit: ``24.1 cm``."""
        return _with_unit(self.value, self.unit)

    def __str__(self) -> str:
        """Value, uncertainty and unit: ``24.1 ± 0.3 cm``."""
        return _with_unit(f"{self.value} ± {self.sd}" if self.sd else self.value, self.unit)


_UNITS: dict[Units, dict[Quantity, DisplayUnit]] = {
    "metric": {
        "stroke_length": DisplayUnit("cm", 0.01, 1),
        "putt_length": DisplayUnit("m", 1.0, 2),
        "speed": DisplayUnit("m/s", 1.0, 2),
        "acceleration": DisplayUnit("m/s²", 1.0, 1),
    },
    "imperial": {
        "stroke_length": DisplayUnit("in", INCH_M, 1),
        "putt_length": DisplayUnit("ft", FOOT_M, 1),
        "speed": DisplayUnit("ft/s", FOOT_M, 2),
        "acceleration": DisplayUnit("ft/s²", FOOT_M, 1),
    },
}
_COMMON: dict[Quantity, DisplayUnit] = {
    "time": DisplayUnit("s", 1.0, 2),
    "angle": DisplayUnit("°", 1.0, 1),
    "number": DisplayUnit("", 1.0, 2),
}
_QUANTITY_OF_UNIT: dict[str, Quantity] = {
    "s": "time",
    "m": "stroke_length",
    "m/s": "speed",
    "m/s²": "acceleration",
    "°": "angle",
    "": "number",
}
_WALKED_LENGTHS = frozenset({"roll_out_m"})


def check_units(text: str) -> Units:
    """``metric`` or ``imperial``; raises SettingsError for anything else."""
    for units in _UNITS:
        if text == units:
            return units
    raise SettingsError(f"'{text}' is not a system of units; use metric or imperial.")


def quantity_of(measure_name: str) -> Quantity:
    """The quantity of a measure of the registry, which decides its unit for people."""
    if measure_name in _WALKED_LENGTHS:
        return "putt_length"
    return _QUANTITY_OF_UNIT[MEASURES[measure_name].unit]


def display_unit(quantity: Quantity, units: Units) -> DisplayUnit:
    """The unit in which people read that quantity."""
    common = _COMMON.get(quantity)
    return common if common is not None else _UNITS[units][quantity]


def decimals_for(sd: float, without_sd: int) -> int:
    """Decimals that a standard uncertainty carries (see the module); ``without_sd`` where it is unknown or 0.

    Never below zero, and at most two beyond ``without_sd``.
    """
    if not math.isfinite(sd) or sd <= 0.0:
        return without_sd
    exponent = math.floor(math.log10(sd))
    significant = 2 if sd / 10.0**exponent < 1.95 else 1
    return min(max(significant - 1 - exponent, 0), without_sd + 2)


def format_figure(
    value_si: float, quantity: Quantity, units: Units, sd_si: float = math.nan, *, most_decimals: int = 9
) -> Figure:
    """A figure in SI units (angles in degrees) as text in the units that people read.

    ``most_decimals`` holds the figures of a column together; see `column_decimals`.
    """
    unit = display_unit(quantity, units)
    if not math.isfinite(value_si):
        return Figure(MISSING, "", "")
    value, sd = value_si / unit.size_si, sd_si / unit.size_si
    decimals = min(decimals_for(sd, unit.decimals), most_decimals)
    return Figure(format_number(value, decimals), _format_sd(sd, decimals), unit.symbol)


def column_decimals(sds_si: Sequence[float], quantity: Quantity, units: Units) -> int:
    """Decimals at most for a column of figures: the middle of what their uncertainties carry.

    A figure that is less certain than the others still shows fewer.
    """
    unit = display_unit(quantity, units)
    carried = sorted(decimals_for(sd / unit.size_si, unit.decimals) for sd in sds_si)
    return carried[(len(carried) - 1) // 2] if carried else unit.decimals


def format_measure(name: str, measure: Measure | None, units: Units, *, most_decimals: int = 9) -> Figure:
    """A measure of the registry as text; a missing measure gives –."""
    if measure is None:
        return Figure(MISSING, "", "")
    return format_figure(measure.value, quantity_of(name), units, measure.sd, most_decimals=most_decimals)


def format_number(value: float, decimals: int) -> str:
    """A number with that many decimals, a true minus sign, and no minus before zero."""
    text = f"{value:.{decimals}f}"
    if text.startswith("-"):
        text = text[1:] if float(text) == 0.0 else "−" + text[1:]
    return text


def format_putt_length(length_m: float, units: Units) -> str:
    """Length of a putt as it is named: ``10 ft``, ``3.05 m``; no trailing zeros."""
    unit = display_unit("putt_length", units)
    number = format_number(length_m / unit.size_si, unit.decimals)
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    return f"{number} {unit.symbol}"


def format_both(value_si: float, quantity: Quantity, first: Units = "metric") -> str:
    """A figure in both systems, ``first`` in front: ``24.1 cm (9.5 in)``."""
    second: Units = "imperial" if first == "metric" else "metric"
    one, other = format_figure(value_si, quantity, first), format_figure(value_si, quantity, second)
    return one.plain if one == other else f"{one.plain} ({other.plain})"


def format_putt_length_both(length_m: float, first: Units = "metric") -> str:
    """Length of a putt in both systems: ``3.05 m (10 ft)``."""
    second: Units = "imperial" if first == "metric" else "metric"
    return f"{format_putt_length(length_m, first)} ({format_putt_length(length_m, second)})"


def _format_sd(sd: float, decimals: int) -> str:
    if not math.isfinite(sd) or sd <= 0.0:
        return ""
    text = f"{sd:.{decimals}f}"
    return text if float(text) > 0.0 else f"<{10.0**-decimals:.{decimals}f}"


def _with_unit(number: str, unit: str) -> str:
    if not unit:
        return number
    return f"{number}{unit}" if unit == "°" else f"{number} {unit}"
