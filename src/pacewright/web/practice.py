"""The player's page behind a link: the page, its plan, what was practised, clips for review.

The token is all there is to show, so every refusal is the same and takes the same time, and who guesses has
few tries.
"""

from __future__ import annotations

import asyncio
import datetime as dt
import time
from collections.abc import Callable
from typing import Annotated, Any, Literal, TypeVar
from uuid import UUID

from fastapi import APIRouter, Path, Request
from fastapi.concurrency import run_in_threadpool
from pydantic import AwareDatetime, ConfigDict, Field, ValidationError
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, Response

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.practice import StationRequest
from pacewright.app.desk.practice_results import PageEnd, PagePutt, PageResults
from pacewright.app.desk.sharing import Opened
from pacewright.app.desk.views import RecordingView
from pacewright.app.practice_page import LANGUAGES, PracticePlayer, payload_of, practice_parts
from pacewright.core.errors import ConsentError, ForbiddenError, PacewrightError
from pacewright.core.outcome import Outcome
from pacewright.web.api.common import Body, check_sayable
from pacewright.web.limits import Failures, sender
from pacewright.web.sending import attachment, form_with_file

router = APIRouter(include_in_schema=False)
T = TypeVar("T")
Token = Annotated[str, Path(pattern=r"^[A-Za-z0-9_-]{1,200}$")]
REFUSED = "This link does not hold (any more); ask your coach for a new one."
REFUSAL_TAKES_S = 0.08
MOST_ITEMS = 500
ItemId = Annotated[str, Field(min_length=1, max_length=80)]


class _Item(Body):
    """Anything that the page noted; kinds that are not known here are acknowledged and left."""

    model_config = ConfigDict(extra="allow", str_max_length=2000)
    id: ItemId
    kind: Annotated[str, Field(max_length=40)]


class _Putt(Body):
    model_config = ConfigDict(extra="ignore", allow_inf_nan=False)
    id: ItemId
    at: AwareDatetime
    run: ItemId
    session_kind: Literal["first test", "practice", "retention test"] = "practice"
    block_title: Annotated[str, Field(max_length=400)] = ""
    asked_m: float
    finish_along_m: float | None = None
    finish_across_m: float | None = None
    finish_along_sd_m: float | None = None
    holed: bool = False
    guess_along_m: float | None = None
    beats_per_minute: float | None = None
    contact_error_s: float | None = None


class _End(Body):
    model_config = ConfigDict(extra="ignore")
    id: ItemId
    at: AwareDatetime
    run: ItemId
    session: Annotated[int, Field(ge=0, le=1000)]
    putts: Annotated[int, Field(ge=0, le=10_000)] = 0


class _Undo(Body):
    model_config = ConfigDict(extra="ignore")
    id: ItemId
    of: ItemId


class Results(Body):
    """One sending of the page."""

    schema_name: Annotated[str, Field(alias="schema", max_length=60)]
    plan_id: UUID
    items: Annotated[list[_Item], Field(max_length=MOST_ITEMS)]


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
    return told | {"may_send_clips": opened.may_send_clips}


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
async def results(request: Request, token: Token, body: Results) -> dict[str, Any]:
    """Take in what was practised; ``accepted`` are the ids that are safe now. Again changes nothing."""
    told, refused = _sorted(body)
    received = await _guarded(request, lambda desk: desk.sharing.receive(token, told))
    refused += [{"id": name, "why": why} for name, why in received.refused]
    bad = {one["id"] for one in refused}
    # What is to be taken back is named by its putt, not by its own id.
    bad |= {item.id for item in body.items if item.kind == "undo" and getattr(item, "of", None) in bad}
    return {"accepted": [item.id for item in body.items if item.id not in bad], "refused": refused}


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


def _sorted(body: Results) -> tuple[PageResults, list[dict[str, str]]]:
    """The items by kind, and those that make no sense with the reason."""
    putts, ends, gone, refused = [], [], [], []
    for item in body.items:
        raw = item.model_dump()
        try:
            if item.kind == "putt":
                putts.append(_putt(_Putt.model_validate(raw)))
            elif item.kind == "session-end":
                end = _End.model_validate(raw)
                ends.append(PageEnd(end.id, end.at, end.run, end.session, end.putts))
            elif item.kind == "undo":
                gone.append(_Undo.model_validate(raw).of)
        except ValidationError as error:
            refused.append({"id": item.id, "why": str(error.errors()[0]["msg"])[:200]})
        except PacewrightError as error:
            refused.append({"id": item.id, "why": str(error)[:200]})
    return PageResults(body.plan_id, tuple(putts), tuple(ends), tuple(gone)), refused


def _putt(sent: _Putt) -> PagePutt:
    finish = Outcome(sent.finish_along_m, sent.finish_across_m, sent.holed, sent.finish_along_sd_m or 0.0)
    return PagePutt(
        sent.id, sent.at, sent.run, sent.session_kind, sent.asked_m, finish, sent.guess_along_m,
        sent.block_title[:60], sent.beats_per_minute, sent.contact_error_s,
    )  # fmt: skip


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
