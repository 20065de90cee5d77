"""A practice plan: sessions of blocks, and why each choice was made."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Literal

from pacewright.core.station import Station

Strength = Literal["fair", "mixed", "weak", "derived", "custom", "our choice"]
"""How strong the evidence for a choice is.

``fair`` a published study supports it; ``mixed`` studies disagree or the effect is small; ``weak`` the study
shows something near it; ``derived`` it follows from this player's figures or from mechanics; ``custom`` a
habit of the trade without a published source; ``our choice`` somebody had to choose.
"""
SessionKind = Literal["first test", "practice", "retention test"]
Order = Literal["runs of three", "mixed"]
BeatUse = Literal["on", "every other putt", "off"]


@dataclass(frozen=True, slots=True)
class PlanChoice:
    """One choice of the plan: what was chosen, why, on what evidence."""

    topic: str
    choice: str
    reason: str
    strength: Strength
    source: str


@dataclass(frozen=True, slots=True)
class PlanBlock:
    """Putts hit in one go: over ``lengths_m``, in that ``order``, with the beat and markers in use or not."""

    title: str
    task: str
    lengths_m: tuple[float, ...]
    putts: int
    order: Order
    beat: BeatUse
    markers: bool
    feedback: str
    is_recorded: bool


@dataclass(frozen=True, slots=True)
class PlanSession:
    """One day: ``date`` is None where no days were named; ``minutes`` include the breaks."""

    number: int
    kind: SessionKind
    date: datetime.date | None
    minutes: int
    aim: str
    blocks: tuple[PlanBlock, ...]

    @property
    def putts(self) -> int:
        """Putts of the day."""
        return sum(block.putts for block in self.blocks)


@dataclass(frozen=True, slots=True)
class PracticePlan:
    """A plan for one player.

    ``focus`` names the cause of the error budget that practice goes for, empty when none stands out.
    ``station`` has the markers, None when no green was given.
    """

    player: str
    focus: str
    aim: str
    beats_per_minute: float
    lengths_m: tuple[float, ...]
    station: Station | None
    sessions: tuple[PlanSession, ...]
    choices: tuple[PlanChoice, ...]
    stop_rules: tuple[str, ...]
    cautions: tuple[str, ...]
