"""Links for players, with their address as a QR code."""

from __future__ import annotations

import datetime as dt
from typing import Annotated
from uuid import UUID

from fastapi import Request
from fastapi.concurrency import run_in_threadpool
from pydantic import BaseModel, Field

from pacewright.app.desk.views import ShareView
from pacewright.web.api.common import Body, DeskDep, part
from pacewright.web.api.practice_items import Acknowledged, results_of, take_in
from pacewright.web.reach import Reach, qr_svg, reach_of

router = part("sharing")
_RESULTS = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}


class NewShare(Body):
    """A link to one plan, or (without) to whichever plan is active."""

    plan_id: UUID | None = None
    label: Annotated[str, Field(max_length=120)] = ""
    days: Annotated[int, Field(ge=1, le=400)] = 120


class Shared(BaseModel):
    """A link that was made. ``token`` and what holds it are shown this once."""

    share: ShareView
    token: str
    url: str
    qr_svg: str
    instructions: list[str]


@router.get("/players/{player_id}/shares")
def list_shares(desk: DeskDep, player_id: UUID) -> list[ShareView]:
    """A player's links, newest first."""
    return list(desk.sharing.of_player(player_id))


@router.post("/players/{player_id}/shares", status_code=201)
def create_share(request: Request, desk: DeskDep, player_id: UUID, body: NewShare | None = None) -> Shared:
    """Make a link for a player."""
    body = body or NewShare()
    share, token = desk.sharing.create(
        player_id, plan_id=body.plan_id, label=body.label, lives_for=dt.timedelta(days=body.days)
    )
    reach = reach_of(request)
    url = f"{reach.address}/p/{token}/"
    return Shared(share=share, token=token, url=url, qr_svg=qr_svg(url), instructions=reach.instructions)


@router.post("/shares/{share_id}/revoke")
def revoke_share(desk: DeskDep, share_id: UUID) -> ShareView:
    """End a link now; doing it twice changes nothing."""
    return desk.sharing.revoke(share_id)


@router.post("/players/{player_id}/practice-results", openapi_extra=_RESULTS)
async def bring_results(request: Request, desk: DeskDep, player_id: UUID) -> Acknowledged:
    """Take in what a player sent as a file or as a code (``PW1.…``); again changes nothing."""
    results = results_of(await request.body())
    return await run_in_threadpool(take_in, desk, player_id, results)


@router.get("/reach")
async def reach(request: Request) -> Reach:
    """Under which address phones find this desk, as a QR code, and what to do when they mistrust it."""
    return reach_of(request)
