"""What the desk tells of a day and of a player at a glance: views put together from several others."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from pacewright.app.desk.views import (
    FindingView,
    JobView,
    PlanView,
    PlayerLine,
    PlayerView,
    PutterView,
    SessionView,
)


@dataclass(frozen=True, slots=True)
class TodayView:
    """What a coach opens the day with.

    ``open_sessions`` have begun and not ended; ``unread`` came from players' own pages; ``troubled_jobs``
    failed or got stuck in the last week; ``due`` are players with an active plan, longest unseen first.
    """

    open_sessions: tuple[SessionView, ...]
    unread: tuple[SessionView, ...]
    open_jobs: tuple[JobView, ...]
    troubled_jobs: tuple[JobView, ...]
    due: tuple[PlayerLine, ...]
    recent: tuple[SessionView, ...]


@dataclass(frozen=True, slots=True)
class Told:
    """Figures with their words. ``body`` is what the command of the same name prints with --json; None when
    there is too little, and then ``statement`` says what is wanted. ``rows`` are tables of text by units.
    """

    body: Mapping[str, Any] | None
    statement: str
    explanation: tuple[str, ...] = ()
    rows: Mapping[str, tuple[tuple[str, ...], ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SpreadOnDay:
    """One session in the run of progress: spread and bias as shares of the distance, nan where unknown."""

    session_id: UUID
    held_on: dt.date
    putts: int
    spread_share: float
    bias_share: float


@dataclass(frozen=True, slots=True)
class StoryView:
    """A player at a glance: budget, beat, progress (last session against the one before), plan, putter.

    ``is_fresh`` is false while the figures are those of before the last change and new ones are worked out.
    """

    player: PlayerView
    budget: Told
    tempo: Told
    progress: Told
    days: tuple[SpreadOnDay, ...]
    plan: PlanView | None
    putter: PutterView | None
    sessions: tuple[SessionView, ...]
    findings: tuple[FindingView, ...]
    putts: int
    strokes: int
    is_fresh: bool = True
