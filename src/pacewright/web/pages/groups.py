"""Several players who take turns."""

from __future__ import annotations

from uuid import UUID

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from pacewright.app.desk.sessions import KINDS
from pacewright.core.errors import NotFoundError
from pacewright.web.access import DeskDep
from pacewright.web.pages.site import at_once, show

router = APIRouter()


@router.get("/groups/new")
@at_once
def new_group(request: Request, desk: DeskDep) -> HTMLResponse:
    """Who takes turns today."""
    return show(
        request, "group_new.html", tab="today", players=desk.players.names(), kinds=KINDS,
        greens=desk.greens.list(limit=200).items,
    )  # fmt: skip


@router.get("/groups/{group_id}")
@at_once
def group(request: Request, desk: DeskDep, group_id: UUID) -> HTMLResponse:
    """The group at work: whose turn it is, the outcome by thumb, the next player."""
    sessions = desk.sessions.of_group(group_id)
    if not sessions:
        raise NotFoundError("There is no such group.")
    return show(request, "group.html", tab="today", sessions=sessions, asked_m=None)
