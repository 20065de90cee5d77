"""Progress: the last session against the one before, and the run of days."""

from __future__ import annotations

from uuid import UUID

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from pacewright.web.access import DeskDep
from pacewright.web.pages.site import at_once, show

router = APIRouter()


@router.get("/players/{player_id}/progress")
@at_once
def progress(request: Request, desk: DeskDep, player_id: UUID) -> HTMLResponse:
    """Whether practice worked, and what else the putts say."""
    story = desk.story.of_player(player_id)
    return show(
        request, "progress.html", tab="players", player=story.player, progress=story.progress,
        days=story.days, budget=story.budget, tempo=story.tempo,
    )  # fmt: skip
