"""The player's page behind a link: the page, its plan, what was practised, clips for review.

The token is all there is to show, so every refusal is the same and takes the same time, and who guesses has
few tries.
"""

from __future__ import annotations

import asyncio
import datetime as dt
import time
from collections.abc import Callable
from typing import Annotated, Any, TypeVar
from uuid import UUID

from fastapi import APIRouter, Path, Request
from fastapi.concurrency import run_in_threadpool
from pydantic import Field
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, Response

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.practice import StationRequest
from pacewright.app.desk.receiving import LARGEST_CLIP
from pacewright.app.desk.sharing import Opened
from pacewright.app.desk.views import RecordingView
from pacewright.app.practice_page import LANGUAGES, PracticePlayer, payload_of, practice_parts
from pacewright.core.errors import ConsentError, ForbiddenError
from pacewright.web.api.common import check_sayable
from pacewright.web.api.practice_items import Acknowledged, Results, take_in
from pacewright.web.limits import Failures, sender
from pacewright.web.sending import attachment, form_with_file

router = APIRouter(include_in_schema=False)
T = TypeVar("T")
Token = Annotated[str, Path(pattern=r"^[A-Za-z0-9_-]{1,200}$")]
REFUSED = "This link does not hold (any more); ask your coach for a new one."
REFUSAL_TAKES_S = 0.08
MOST_ITEMS = 500
ItemId = Annotated[str, Field(min_length=1, max_length=80)]


@router.get("/p/{token}")
def to_the_page(token: Token) -> RedirectResponse:
    """The page lies below the link, so that its parts have short names."""
    return RedirectResponse(f"/p/{token}/", 308)


@router.get("/p/{token}/")
async def page(request: Request, token: Token) -> Response:
    """The page itself."""
    await _guarded(request, lambda desk: desk.sharing.open(token))
    return _part("")


@router.get("/p/{token}/plan.json")
async def plan(request: Request, token: Token) -> dict[str, Any]:
    """This player's plan, and nothing else."""
    opened = await _guarded(request, lambda desk: desk.sharing.open(token))
    if opened.plan is None:
        raise HTTPException(404, "There is no plan yet; ask your coach for one.")
    language = opened.language if opened.language in LANGUAGES else "en"
    told = payload_of(opened.plan.body, opened.plan.id.hex, PracticePlayer(opened.units, language))
    return told | {"may_send_clips": opened.may_send_clips, "largest_clip_bytes": LARGEST_CLIP}


@router.get("/p/{token}/strip.pdf")
async def strip(request: Request, token: Token) -> Response:
    """The marker strip of the plan, to print."""
    opened = await _guarded(request, lambda desk: desk.sharing.open(token))
    wanted = _station_of(opened)
    if wanted is None:
        raise HTTPException(404, "The plan has no green, so there are no markers to print.")
    desk: Desk = request.app.state.desk
    data = await run_in_threadpool(desk.reports.strip, opened.player_id, wanted, units=opened.units)
    return attachment(data, "application/pdf", "marker-strip.pdf")


@router.post("/p/{token}/results")
async def results(request: Request, token: Token, body: Results) -> Acknowledged:
    """Take in what was practised; ``accepted`` are the ids that are safe now. Again changes nothing."""
    return await _guarded(request, lambda desk: take_in(desk, token, body))


@router.post("/p/{token}/clips", status_code=201)
async def clip(request: Request, token: Token) -> dict[str, Any]:
    """Take in a clip for review (form: ``file``, ``run``, ``held_on``), with the consents that it needs."""
    await _guarded(request, lambda desk: desk.sharing.open(token))
    async with form_with_file(request) as (file, fields):
        try:
            run = check_sayable(fields.get("run", ""))
            held_on = dt.date.fromisoformat(fields.get("held_on") or dt.date.today().isoformat())
            name = check_sayable(file.filename or "")
        except ValueError:
            raise HTTPException(422, "held_on is a day such as 2026-05-01.") from None
        if not 1 <= len(run) <= 80:
            raise HTTPException(422, "run names the practice of the clip in 1 to 80 characters.")

        def send(desk: Desk) -> RecordingView:
            return desk.sharing.send_clip(token, run, held_on, name, file.file)

        view = await _guarded(request, send)
    return {"id": str(view.id), "size": view.size}


@router.get("/p/{_token}/{name}")
def page_part(name: Annotated[str, Path(max_length=60)]) -> Response:
    """A part of the page; the same for everybody, so nobody is asked for."""
    return _part(name)


async def _guarded(request: Request, work: Callable[[Desk], T]) -> T:
    """Do what a token allows; refuse in the same words after the same time, and not too often."""
    began = time.monotonic()
    failures: Failures = request.app.state.failed_links
    key = sender(request)
    failures.check(key)
    try:
        return await run_in_threadpool(work, request.app.state.desk)
    except ConsentError:
        raise
    except ForbiddenError:
        failures.note(key)
        await asyncio.sleep(max(0.0, began + REFUSAL_TAKES_S - time.monotonic()))
        raise ForbiddenError(REFUSED) from None


def _station_of(opened: Opened) -> StationRequest | None:
    if opened.plan is None or opened.plan.request["green_id"] is None:
        return None
    kept = opened.plan.request
    lengths = tuple(sorted(set(kept["lengths_m"])))
    return StationRequest(lengths, UUID(kept["green_id"]), opened.plan.body["beats_per_minute"])


def _part(name: str) -> Response:
    found = practice_parts().get(name)
    if found is None:
        raise HTTPException(404, "There is nothing of that name.")
    return Response(found.content, media_type=found.media_type)
