"""Figures as text in the units of the coach, for templates: never more digits than they carry."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from typing import Any

from pacewright.app.desk.views import PuttView
from pacewright.core.display import (
    MISSING,
    Units,
    format_figure,
    format_measure,
    format_number,
    format_putt_length,
    format_putt_length_both,
)
from pacewright.core.green import Green
from pacewright.core.measure import Measure
from pacewright.core.registry import MEASURES
from pacewright.core.units import FOOT_M, INCH_M


class Figures:
    """The figures of a page in one system of units."""

    def __init__(self, units: Units) -> None:
        self.units: Units = units

    def putt(self, length_m: float | None) -> str:
        """Length of a putt as it is named: ``3 m``, ``10 ft``."""
        return MISSING if length_m is None else format_putt_length(length_m, self.units)

    def putt_both(self, length_m: float) -> str:
        """Length of a putt in both systems."""
        return format_putt_length_both(length_m, self.units)

    def walked(self, length_m: float, sd_m: float | None = None) -> str:
        """A length that is walked, with its uncertainty."""
        sd = math.nan if sd_m is None else sd_m
        return str(format_figure(length_m, "putt_length", self.units, sd)).replace(" ", "\u00a0")

    def stroke(self, length_m: float, sd_m: float = math.nan) -> str:
        """A length of the stroke (a hand's breadth), with its uncertainty."""
        return str(format_figure(length_m, "stroke_length", self.units, sd_m)).replace(" ", "\u00a0")

    def speed(self, speed_m_s: float) -> str:
        """A speed."""
        return format_figure(speed_m_s, "speed", self.units).plain.replace(" ", "\u00a0")

    def number(self, value: float) -> str:
        """A plain number."""
        return format_figure(value, "number", self.units).plain

    def known(self, value: float) -> float | None:
        """A number for a script; None where it is not known."""
        return json_number(value)

    def measure(self, name: str, measures: Mapping[str, Measure]) -> str:
        """A measure of the registry with unit and uncertainty."""
        return str(format_measure(name, measures.get(name), self.units)).replace(" ", "\u00a0")

    def plain(self, name: str, measures: Mapping[str, Measure]) -> str:
        """A measure of the registry with its unit, rounded as its uncertainty asks."""
        return format_measure(name, measures.get(name), self.units).plain.replace(" ", "\u00a0")

    def label(self, name: str) -> str:
        """The name of a measure for people."""
        return MEASURES[name].label

    def definition(self, name: str) -> str:
        """What a measure means."""
        return MEASURES[name].definition

    def miss(self, putt: PuttView) -> str:
        """Where a ball finished against the length asked, as a coach calls it out: ``+2 ft``, ``−40 cm``."""
        if putt.finish_along_m is None:
            return ""
        off = putt.finish_along_m - putt.asked_m
        sign = "+" if off > 0.0 else "−" if off < 0.0 else ""
        return sign + self.distance(abs(off))

    def distance(self, length_m: float) -> str:
        """A distance as it is told by eye: whole cm or inches, then tenths of metres or feet."""
        if self.units == "metric":
            if length_m < 0.995:
                return f"{length_m * 100:.0f}\u00a0cm"
            return f"{format_number(length_m, 1)}\u00a0m"
        if length_m < 0.98 * FOOT_M:
            return f"{length_m / INCH_M:.0f}\u00a0in"
        return f"{format_number(length_m / FOOT_M, 1).removesuffix('.0')}\u00a0ft"

    def slope(self, slope_rad: float) -> str:
        """A slope along the line in percent, uphill above 0."""
        percent = 100.0 * math.tan(slope_rad)
        return f"{format_number(percent, 1)}\u00a0%"

    def green(self, green: Green) -> str:
        """A green in short: speed, and slope where there is one."""
        speed = self.walked(green.speed_m)
        return speed if green.slope_rad == 0.0 else f"{speed}, {self.slope(green.slope_rad)}"

    def percent(self, share: float | None) -> str:
        """A share in whole percent."""
        return MISSING if share is None or not math.isfinite(share) else f"{100.0 * share:.0f}\u00a0%"

    def day(self, day: dt.date | dt.datetime | None) -> str:
        """A day, the same in every language."""
        return MISSING if day is None else f"{day:%Y-%m-%d}"

    def moment(self, moment: dt.datetime | None) -> str:
        """A moment by the clock of this machine."""
        return MISSING if moment is None else f"{moment.astimezone():%Y-%m-%d %H:%M}"

    def size(self, count: int) -> str:
        """A number of bytes."""
        if count < 1_000_000:
            return f"{max(count // 1000, 1)}\u00a0kB"
        return f"{count / 1e6:.0f}\u00a0MB" if count < 1e9 else f"{count / 1e9:.1f}\u00a0GB"


def json_number(value: Any) -> float | None:
    """A number that JSON can carry."""
    return float(value) if value is not None and math.isfinite(value) else None
