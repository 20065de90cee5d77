"""Players: the list, a new one in two steps, and the story of one at a glance."""

from __future__ import annotations

from uuid import UUID

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from pacewright.app.desk.pictures import story_pictures
from pacewright.app.desk.sessions import KINDS
from pacewright.web.access import DeskDep
from pacewright.web.pages.site import at_once, is_coach, show

router = APIRouter()


@router.get("/players")
@at_once
def players(request: Request, desk: DeskDep, search: str = "", after: str | None = None) -> HTMLResponse:
    """The players, by name."""
    found = desk.players.list(search=search, after=after or None, limit=40)
    return show(request, "players.html", tab="players", found=found, search=search)


@router.get("/players/new")
def new_player(request: Request) -> HTMLResponse:
    """A player in two steps: who, and whether it agrees to being recorded."""
    return show(request, "player_new.html", tab="players")


@router.get("/players/{player_id}")
@at_once
def player(request: Request, desk: DeskDep, player_id: UUID) -> HTMLResponse:
    """The story of a player."""
    works_here = desk.actor.role != "player"
    story = desk.story.of_player(player_id)
    newest_of_kind = {finding.code: finding for finding in reversed(story.findings)}
    return show(
        request, "player.html", tab="players", story=story, kinds=KINDS,
        findings=list(reversed(newest_of_kind.values()))[:4],
        putters=desk.putters.of_player(player_id), consents=desk.consents.of_player(player_id),
        guardians=desk.players.guardians(player_id), shares=desk.sharing.of_player(player_id),
        greens=desk.greens.list(limit=200).items if works_here else (), may_erase=is_coach(desk),
    )  # fmt: skip


@router.get("/players/{player_id}/pictures")
def pictures(request: Request, desk: DeskDep, player_id: UUID, names: str) -> HTMLResponse:
    """Charts of the story, by name; those that cannot be drawn are left out."""
    drawn = story_pictures(desk, player_id, names.split(","))
    return show(request, "pictures.html", pictures=list(drawn.values()))


def attachment(name: str) -> dict[str, str]:
    """Headers of a file that is handed over under that name."""
    return {"content-disposition": f'attachment; filename="{name}"'}
