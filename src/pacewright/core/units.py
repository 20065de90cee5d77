"""Quantities written by people (``10ft``, ``9'6"``, ``2.386 m/s``, ``2%``) and units by name ending.

Everything inside Pacewright is in SI units; this module is the only door in and out.
"""

from __future__ import annotations

import math
import re

from pacewright.core.errors import SettingsError

INCH_M = 0.0254
FOOT_M = 0.3048
YARD_M = 0.9144
STANDARD_GRAVITY_M_S2 = 9.80665
"""One ``g`` of an inertial sensor (the standard value, not the local one)."""

_FACTORS: dict[str, dict[str, float]] = {
    "length": {
        "m": 1.0, "cm": 0.01, "mm": 0.001, "km": 1000.0, "in": INCH_M, "ft": FOOT_M, "yd": YARD_M,
    },
    "time": {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "min": 60.0},
    "speed": {
        "m/s": 1.0, "cm/s": 0.01, "mm/s": 0.001, "ft/s": FOOT_M, "in/s": INCH_M, "km/h": 1 / 3.6,
        "mph": 0.44704,
    },
    "acceleration": {
        "m/s2": 1.0, "cm/s2": 0.01, "mm/s2": 0.001, "ft/s2": FOOT_M, "g": STANDARD_GRAVITY_M_S2,
    },
    "angle": {"rad": 1.0, "deg": math.pi / 180.0},
    "angular_rate": {"rad/s": 1.0, "deg/s": math.pi / 180.0},
    "mass": {"kg": 1.0, "g": 1e-3, "oz": 0.028349523125, "lb": 0.45359237},
    "frequency": {"hz": 1.0, "khz": 1000.0},
}  # fmt: skip

_ALIASES = {
    "metre": "m", "metres": "m", "meter": "m", "meters": "m", "inch": "in", "inches": "in",
    '"': "in", "″": "in", "”": "in", "foot": "ft", "feet": "ft", "'": "ft", "′": "ft", "’": "ft",
    "yard": "yd", "yards": "yd", "sec": "s", "second": "s", "seconds": "s", "°": "deg",
    "degree": "deg", "degrees": "deg", "mps": "m/s", "fps": "ft/s", "m/s^2": "m/s2",
    "m/s²": "m/s2", "µs": "us", "°/s": "deg/s", "dps": "deg/s", "kmh": "km/h", "kph": "km/h",
}  # fmt: skip

_UNSIGNED = r"(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?"
_NUMBER = rf"[+-]?{_UNSIGNED}"
_QUANTITY = re.compile(rf"^\s*({_NUMBER})\s*(.*?)\s*$")
_FEET_AND_INCHES = re.compile(
    rf"^\s*({_NUMBER})\s*(?:ft|feet|foot|'|′|’)\s*({_UNSIGNED})\s*(?:in|inch|inches|\"|″|”)?\s*$",
    re.IGNORECASE,
)
_PERCENT = re.compile(rf"^\s*({_NUMBER})\s*%\s*$")


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def factor_to_si(unit: str, dimension: str) -> float:
    """Factor by which a figure in ``unit`` is multiplied to reach SI.

    Raises SettingsError when ``unit`` is not a unit of ``dimension``.
    """
    table = _FACTORS[dimension]
    name = unit.strip().lower()
    name = _ALIASES.get(name, name)
    if name not in table:
        known = ", ".join(table)
        raise SettingsError(f"'{unit}' is not a unit of {dimension}; use one of: {known}.")
    return table[name]


def parse_quantity(text: str, dimension: str, *, default_unit: str | None = None) -> float:
    """Read a quantity such as ``185cm`` or ``2.386 m/s`` and return it in SI units.

    A bare number takes ``default_unit`` if one is given, and is refused otherwise.
    Feet and inches may stand together (``9ft 6in``, ``9'6"``).
    Raises SettingsError with the text and the units that would do.
    """
    if dimension == "length" and (both := _FEET_AND_INCHES.match(text)):
        feet = _number(both[1])
        inches = math.copysign(_number(both[2]), feet)
        value = feet * FOOT_M + inches * INCH_M
    elif match := _QUANTITY.match(text):
        value = _number(match[1]) * _factor_in(text, match[2] or default_unit, dimension)
    else:
        raise SettingsError(f"'{text}' is not a number with a unit of {dimension}.")
    if not math.isfinite(value):
        raise SettingsError(f"'{text}' is not a finite {dimension}.")
    return value


def _factor_in(text: str, unit: str | None, dimension: str) -> float:
    if unit is None:
        known = ", ".join(_FACTORS[dimension])
        raise SettingsError(f"'{text}' has no unit; add one of: {known}.")
    try:
        return factor_to_si(unit, dimension)
    except SettingsError as error:
        raise SettingsError(f"In '{text}', {error}") from None


def parse_length(text: str) -> float:
    """Length in metres; see `parse_quantity`."""
    return parse_quantity(text, "length")


def parse_speed(text: str) -> float:
    """Speed in metres a second; see `parse_quantity`."""
    return parse_quantity(text, "speed")


def parse_slope(text: str) -> float:
    """Slope as an angle in radians, from ``2%`` (rise over run) or ``1.1deg``; uphill is positive."""
    if percent := _PERCENT.match(text):
        return math.atan(_number(percent[1]) / 100.0)
    try:
        return parse_quantity(text, "angle")
    except SettingsError:
        raise SettingsError(f"'{text}' is not a slope; give it as 2% or 1.1deg.") from None


def parse_share(text: str) -> float:
    """A share as a number, from ``10%``. Raises SettingsError for anything else."""
    if percent := _PERCENT.match(text):
        return _number(percent[1]) / 100.0
    raise SettingsError(f"'{text}' is not a share; give it as 10%.")


# Column endings, longest first so that `_m_s2` is not read as `_s2`. Each: ending, dimension, factor.
COLUMN_ENDINGS: tuple[tuple[str, str, float], ...] = (
    ("_mm_s2", "acceleration", 0.001), ("_cm_s2", "acceleration", 0.01),
    ("_m_s2", "acceleration", 1.0), ("_ft_s2", "acceleration", FOOT_M),
    ("_rad_s", "angular_rate", 1.0), ("_deg_s", "angular_rate", math.pi / 180.0),
    ("_mm_s", "speed", 0.001), ("_cm_s", "speed", 0.01), ("_m_s", "speed", 1.0),
    ("_ft_s", "speed", FOOT_M), ("_in_s", "speed", INCH_M), ("_mph", "speed", 0.44704),
    ("_km_h", "speed", 1 / 3.6), ("_rad", "angle", 1.0), ("_deg", "angle", math.pi / 180.0),
    ("_mm", "length", 0.001), ("_cm", "length", 0.01), ("_m", "length", 1.0),
    ("_in", "length", INCH_M), ("_ft", "length", FOOT_M), ("_yd", "length", YARD_M),
    ("_ms", "time", 1e-3), ("_us", "time", 1e-6), ("_ns", "time", 1e-9), ("_s", "time", 1.0),
    ("_g", "acceleration", STANDARD_GRAVITY_M_S2),
)  # fmt: skip


def split_column_name(name: str) -> tuple[str, str, float] | None:
    """Split ``head_x_mm`` into (``head_x``, ``length``, 0.001); None when no known ending is there."""
    lowered = name.strip().lower()
    for ending, dimension, factor in COLUMN_ENDINGS:
        if lowered.endswith(ending) and len(lowered) > len(ending):
            return lowered[: -len(ending)], dimension, factor
    return None
