"""Today: who is next, what is open, what came in; and an empty desk on its first day."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from pacewright.app.desk.desk import Desk
from pacewright.web.access import DeskDep
from pacewright.web.pages.site import at_once, show

router = APIRouter()


@router.get("/")
@at_once
def today(request: Request, desk: DeskDep) -> Response:
    """What a coach opens the day with; a player sees its own page."""
    if desk.actor.role == "player":
        return RedirectResponse(f"/players/{desk.actor.player_id}", 303)
    if not desk.players.list(limit=1).items:
        return show(request, "first_run.html", tab="today", **_club(desk))
    return show(request, "today.html", tab="today", today=desk.story.today())


@router.get("/today/part")
@at_once
def today_part(request: Request, desk: DeskDep) -> HTMLResponse:
    """What changes by itself: jobs, sessions."""
    return show(request, "today_part.html", today=desk.story.today())


@router.get("/first-run/part")
@at_once
def first_run_part(request: Request, desk: DeskDep) -> HTMLResponse:
    """The offer of the demo club, how far it is, and the way in once it is there."""
    return show(request, "first_run_part.html", **_club(desk))


def _club(desk: Desk) -> dict[str, Any]:
    return {"club_job": desk.jobs.of_demo_club(), "is_there": bool(desk.players.list(limit=1).items)}
