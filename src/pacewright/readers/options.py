"""What a person can say about a file that the file does not say itself."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from typing import Literal

from pacewright.core.errors import SettingsError

HAND_TIMING_SD_S = 0.03
"""Standard uncertainty of an event timed by hand from a film or a stopwatch: common practice, no source."""

Decimal = Literal[".", ","]
_AXES = ("x", "y", "z")


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """Options of `read`; every one has a default that lets the file speak for itself.

    columns          our name (``head_x_mm``, ``gyro_x_deg_s``, ``time_s``) to the file's column: its name, or
                     its number from 1. The ending of our name is the unit; without one the file's counts.
    profile          name of a saved profile; what is given here goes before what the profile says.
    rate_hz          samples a second, for a file without a time column; it replaces one that is there.
    marker           name of the head's marker in motion capture; the marker that swings, when not given.
    ball_marker      name of the ball's marker; one called ``ball``, when not given.
    up_axis          motion capture: the file's axis that points up (``z``, ``-y``); from the data when not
                     given.
    target_axis      motion capture: the file's axis along the target line; the head's direction as it passes
                     its place at address, when not given. In a table ``-x`` says that x points away from the
                     target: places are turned by half a turn.
    arc_radius_m     from the swing axis to the head; ``arc_radius_sd_m`` its standard uncertainty.
    left_handed      the player is left-handed: the recording is mirrored.
    timing_sd_s      standard uncertainty of an event timed by hand.
    delimiter        what separates the columns of a text file (``space`` is any run of blanks).
    decimal          ``.`` or ``,``.
    drop_bad_rows    leave out rows that cannot be read, with a remark, rather than stop at the first.
    progress         called with the share read so far, 0 to 1.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    profile: str | None = None
    rate_hz: float | None = None
    marker: str | None = None
    ball_marker: str | None = None
    up_axis: str | None = None
    target_axis: str | None = None
    arc_radius_m: float | None = None
    arc_radius_sd_m: float = 0.0
    left_handed: bool = False
    timing_sd_s: float = HAND_TIMING_SD_S
    delimiter: str | None = None
    decimal: Decimal | None = None
    drop_bad_rows: bool = False
    progress: Callable[[float], None] | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        _check_positive("The sampling rate", self.rate_hz, "Hz", 1.0, 1e6)
        _check_positive("The arc radius", self.arc_radius_m, "m", 0.2, 5.0)
        _check_positive("The uncertainty of a time taken by hand", self.timing_sd_s, "s", 1e-6, 1.0)
        if not 0.0 <= self.arc_radius_sd_m <= 1.0:
            raise SettingsError(
                f"An arc-radius uncertainty of {self.arc_radius_sd_m:g} m makes no sense; use 0 to 1 m."
            )
        for what, axis in (("up axis", self.up_axis), ("target axis", self.target_axis)):
            if axis is not None and axis.lower().lstrip("+-") not in _AXES:
                raise SettingsError(
                    f"The {what} '{axis}' is not an axis; use x, y or z, with - before it if it points "
                    "the other way."
                )
        if self.decimal not in (None, ".", ","):
            raise SettingsError(f"The decimal mark '{self.decimal}' is not known; use . or ,")

    def settings(self) -> dict[str, str]:
        """Every option that differs from its default, as text, for the provenance of the recording."""
        default = ReadOptions()
        said: dict[str, str] = {}
        for option in fields(self):
            value = getattr(self, option.name)
            if option.name == "progress" or value == getattr(default, option.name):
                continue
            if option.name == "columns":
                value = ", ".join(f"{ours}={theirs}" for ours, theirs in self.columns.items())
            said[option.name] = str(value)
        return said


def _check_positive(what: str, value: float | None, unit: str, low: float, high: float) -> None:
    if value is not None and not (math.isfinite(value) and low <= value <= high):
        raise SettingsError(f"{what} of {value:g} {unit} makes no sense; use {low:g} to {high:g} {unit}.")
