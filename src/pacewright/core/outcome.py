"""A putt: the distance asked, where the ball finished, and what is known of the stroke behind it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from pacewright.core.errors import SettingsError
from pacewright.core.green import Green
from pacewright.core.measure import Measure


@dataclass(frozen=True, slots=True)
class Outcome:
    """Where the ball finished.

    ``along_m`` is the roll-out along the target line from the ball's first place, with the standard
    uncertainty ``along_sd_m`` (0 where none was stated); ``across_m`` is positive towards positive y.
    For a holed putt ``along_m`` is where it would have finished by the pace it had left, and None where
    that was not noted: all that is known then is that it reached the hole (a censored observation).
    """

    along_m: float | None = None
    across_m: float | None = None
    holed: bool = False
    along_sd_m: float = 0.0

    def __post_init__(self) -> None:
        if self.along_m is None and not self.holed:
            raise SettingsError("A putt that was not holed needs the place where it finished.")

    @property
    def is_censored(self) -> bool:
        """Whether all that is known is that the ball reached the hole."""
        return self.along_m is None


@dataclass(frozen=True, slots=True)
class Putt:
    """One putt. Lengths in metres.

    ``guess_along_m`` is where the player believed the ball to have finished, before looking.
    ``measures`` are those of the stroke, by the names of the registry. ``block`` groups putts hit in one
    go under one task, ``session`` those of one day; ``phase`` is learning, retention or transfer.
    ``comfort`` is the player's own mark for the beat, 1 to 5.
    """

    asked_m: float
    outcome: Outcome
    guess_along_m: float | None = None
    block: str = ""
    session: str = ""
    phase: str = ""
    beats_per_minute: float | None = None
    comfort: float | None = None
    measures: Mapping[str, Measure] = field(default_factory=dict)
    green: Green | None = None

    def __post_init__(self) -> None:
        if not (math.isfinite(self.asked_m) and self.asked_m > 0.0):
            raise SettingsError(f"A putt of {self.asked_m:g} m makes no sense; the length asked is above 0.")

    def value(self, name: str) -> float:
        """Value of a measure of the stroke, nan when the putt does not have it."""
        measure = self.measures.get(name)
        return measure.value if measure is not None else math.nan

    def sd(self, name: str) -> float:
        """Standard uncertainty of a measure, nan when it is not known."""
        measure = self.measures.get(name)
        return measure.sd if measure is not None else math.nan
