"""Settings: units, language and look; privacy; backups; who may log in."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from pacewright.web.access import DeskDep
from pacewright.web.pages.site import at_once, is_coach, show
from pacewright.web.pages.words import LANGUAGES

router = APIRouter()


@router.get("/settings")
@at_once
def settings(request: Request, desk: DeskDep) -> HTMLResponse:
    """What the desk is set to, and the coach's duties of care."""
    coach = is_coach(desk)
    return show(
        request, "settings.html", tab="settings", settings=desk.settings.all(), languages=LANGUAGES,
        deleted=desk.undo.recent(limit=20), is_coach=coach, backups=desk.backups.list() if coach else (),
        users=desk.users.list() if coach else (),
    )  # fmt: skip
