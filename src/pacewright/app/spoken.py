"""Where a ball finished, as it is called out: for those who take putts one at a time."""

from __future__ import annotations

from pacewright.coaching.outcomes import parse_outcome
from pacewright.core.outcome import Outcome


def spoken_outcome(text: str, asked_m: float) -> Outcome:
    """The finish that ``+2ft``, ``-40cm``, ``in`` or ``holed 1ft past`` tells of a putt of ``asked_m``.

    Raises SettingsError with what would do.
    """
    return parse_outcome(text, asked_m)
