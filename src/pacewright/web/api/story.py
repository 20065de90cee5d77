"""What a coach sees at a glance: today, a player's story, and the figures behind it; reports."""

from __future__ import annotations

from typing import Annotated, Any, Literal
from uuid import UUID

from fastapi import Query, Response

from pacewright.app.desk.reports import ReportRequest
from pacewright.app.desk.story_views import StoryView, TodayView, Told
from pacewright.core.display import Units
from pacewright.web.api.common import DeskDep, part, sayable
from pacewright.web.sending import attachment

router = part("story")
_REPORT: dict[int | str, dict[str, Any]] = {200: {"content": {"application/pdf": {}, "text/html": {}}}}


@router.get("/today")
def today(desk: DeskDep) -> TodayView:
    """What is open, what came in, what went wrong, who is due."""
    return desk.story.today()


@router.get("/players/{player_id}/story")
def story(desk: DeskDep, player_id: UUID) -> StoryView:
    """A player at a glance: budget, beat, progress, plan, putter, sessions, findings."""
    return desk.story.of_player(player_id)


@router.get("/players/{player_id}/budget")
def budget(desk: DeskDep, player_id: UUID) -> Told:
    """Why the distance varies; ``body`` in the words of ``budget --json``."""
    return _told(desk.story.figures(player_id)["budget"])


@router.get("/players/{player_id}/tempo")
def tempo(desk: DeskDep, player_id: UUID) -> Told:
    """Which beat suits the player; ``body`` in the words of ``tempo --json``."""
    return _told(desk.story.figures(player_id)["tempo"])


@router.get("/players/{player_id}/progress")
def progress(desk: DeskDep, player_id: UUID) -> Told:
    """The last session against the one before; ``body`` in the words of ``compare --json``."""
    return _told(desk.story.figures(player_id)["progress"])


@router.get("/players/{player_id}/report", response_class=Response, responses=_REPORT)
def report(
    desk: DeskDep,
    player_id: UUID,
    session: Annotated[list[UUID], Query(max_length=24)],
    kind: Literal["pdf", "html"] = "pdf",
    title: Annotated[str, Query(max_length=120)] = "Putting strokes",
    length_m: Annotated[list[float], Query(max_length=24)] = [],  # noqa: B006
    beats_per_minute: Annotated[float, Query(ge=20, le=240)] = 90.0,
    units: Units | None = None,
    paper: Literal["a4", "letter"] = "a4",
) -> Response:
    """The report on sessions of the player, to hand over."""
    desk.players.get(player_id)
    request = ReportRequest(
        tuple(session), sayable(title), units, tuple(sayable(length_m)), beats_per_minute, paper
    )
    media = {"pdf": "application/pdf", "html": "text/html"}
    return attachment(desk.reports.report(request, kind), media[kind], f"report.{kind}")


def _told(kept: dict[str, Any]) -> Told:
    rows = {units: tuple(tuple(row) for row in some) for units, some in kept["rows"].items()}
    return Told(kept["body"], kept["statement"], tuple(kept["explanation"]), rows)
