"""Sessions of one player or of a group, and what happens in them while it happens."""

from __future__ import annotations

import asyncio
import datetime as dt
import json
import time
from collections.abc import AsyncIterator
from typing import Annotated, Any, Literal
from uuid import UUID

from fastapi import Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import StreamingResponse
from pydantic import Field, TypeAdapter
from starlette.exceptions import HTTPException

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.views import FindingView, JobView, Page, SessionView, UndoView
from pacewright.core.errors import NotFoundError
from pacewright.web.api.common import After, Body, DeskDep, Limit, Version, created, part, tagged
from pacewright.web.listeners import Listeners, woken_or

router = part("sessions")
Kind = Literal["lesson", "practice", "first test", "retention test"]
MOST_LISTENERS = 64
POLL_S, IDLE_POLL_S, SIGN_OF_LIFE_S, LONGEST_S = 0.15, 1.0, 15.0, 600.0
_JOBS: TypeAdapter[tuple[JobView, ...]] = TypeAdapter(tuple[JobView, ...])


class NewSession(Body):
    """A new session; without a day it is today's."""

    held_on: dt.date | None = None
    putter_id: UUID | None = None
    green_id: UUID | None = None
    place: Annotated[str, Field(max_length=200)] = ""
    note: str = ""
    kind: Kind = "lesson"


class NewGroup(Body):
    """A session for each of several players who take turns, in that order."""

    player_ids: Annotated[list[UUID], Field(min_length=2, max_length=24)]
    held_on: dt.date | None = None
    green_id: UUID | None = None
    place: Annotated[str, Field(max_length=200)] = ""
    note: str = ""
    kind: Kind = "lesson"


class SessionChange(Body):
    """What changes of a session."""

    held_on: dt.date = dt.date(2000, 1, 1)
    putter_id: UUID | None = None
    green_id: UUID | None = None
    place: Annotated[str, Field(max_length=200)] = ""
    note: str = ""
    kind: Kind = "lesson"
    turn: Annotated[int, Field(ge=0, le=1000)] = 0


@router.get("/sessions")
def list_sessions(
    desk: DeskDep, unread: bool = False, after: After = None, limit: Limit = 50
) -> Page[SessionView]:
    """Sessions of all players, newest first; ``unread`` only those that nobody has looked at."""
    return desk.sessions.list(unread=unread, after=after, limit=limit)


@router.get("/players/{player_id}/sessions")
def list_sessions_of_player(
    desk: DeskDep, player_id: UUID, after: After = None, limit: Limit = 50
) -> Page[SessionView]:
    """A player's sessions, newest first."""
    return desk.sessions.list(player_id=player_id, after=after, limit=limit)


@router.post("/players/{player_id}/sessions", status_code=201)
def create_session(
    desk: DeskDep, player_id: UUID, response: Response, body: NewSession | None = None
) -> SessionView:
    """Begin a session."""
    view = desk.sessions.create(player_id, **(body or NewSession()).model_dump())
    created(response, "sessions", view)
    return view


@router.post("/groups", status_code=201)
def create_group(desk: DeskDep, body: NewGroup) -> list[SessionView]:
    """Begin a session for each of several players."""
    return list(desk.sessions.create_group(**body.model_dump()))


@router.get("/groups/{group_id}")
def get_group(desk: DeskDep, group_id: UUID) -> list[SessionView]:
    """The sessions of a group in the order of turns."""
    return list(desk.sessions.of_group(group_id))


@router.get("/sessions/{session_id}")
def get_session(desk: DeskDep, session_id: UUID, response: Response) -> SessionView:
    """A session with its counts."""
    view = desk.sessions.get(session_id)
    tagged(response, view)
    return view


@router.patch("/sessions/{session_id}")
def change_session(
    desk: DeskDep, session_id: UUID, version: Version, body: SessionChange, response: Response
) -> SessionView:
    """Change what is sent; the rest stays."""
    view = desk.sessions.update(session_id, version, **body.given())
    tagged(response, view)
    return view


@router.delete("/sessions/{session_id}")
def delete_session(desk: DeskDep, session_id: UUID) -> UndoView:
    """Delete a session with its recordings, strokes and putts; it can be taken back."""
    return desk.sessions.delete(session_id)


@router.post("/sessions/{session_id}/end")
def end_session(desk: DeskDep, session_id: UUID, response: Response) -> SessionView:
    """End a session; doing it twice changes nothing."""
    view = desk.sessions.end(session_id)
    tagged(response, view)
    return view


@router.post("/sessions/{session_id}/reopen")
def reopen_session(desk: DeskDep, session_id: UUID, response: Response) -> SessionView:
    """Go on with a session that was ended."""
    view = desk.sessions.reopen(session_id)
    tagged(response, view)
    return view


@router.post("/sessions/{session_id}/read")
def read_session(desk: DeskDep, session_id: UUID, response: Response) -> SessionView:
    """Take the unread mark off."""
    view = desk.sessions.mark_read(session_id)
    tagged(response, view)
    return view


@router.get("/sessions/{session_id}/findings")
def findings_of_session(desk: DeskDep, session_id: UUID) -> list[FindingView]:
    """The findings of a session's recordings, newest first."""
    return list(desk.strokes.findings(session_id=session_id))


@router.get("/sessions/{session_id}/jobs")
def jobs_of_session(desk: DeskDep, session_id: UUID) -> list[JobView]:
    """The jobs of a session, newest first."""
    return list(desk.jobs.of_session(session_id))


@router.get(
    "/sessions/{session_id}/events",
    response_class=StreamingResponse,
    responses={200: {"description": "Server-sent events", "content": {"text/event-stream": {}}}},
)
async def events_of_session(request: Request, desk: DeskDep, session_id: UUID) -> StreamingResponse:
    """What happens in a session, as server-sent events called ``progress``.

    Each tells the counts of the session, its jobs, and how many strokes these have measured so far; it comes
    when something of that changes, the first one at once. A stream ends after ten minutes; browsers ask again
    by themselves. After ``gone`` there is nothing more to ask for: the session was deleted.
    """
    first = await run_in_threadpool(_state, desk, session_id)
    listening: Listeners = request.app.state.listening
    if len(listening) >= MOST_LISTENERS:
        raise HTTPException(429, "Too many pages listen; close some.", headers={"Retry-After": "5"})
    return StreamingResponse(_events(request, desk, session_id, first), media_type="text/event-stream")


async def _events(
    request: Request, desk: Desk, session_id: UUID, state: dict[str, Any]
) -> AsyncIterator[str]:
    mark = asyncio.Event()
    request.app.state.listening.add(mark)
    try:
        began = said = time.monotonic()
        yield _event(state)
        while time.monotonic() - began < LONGEST_S and not request.app.state.stopping.is_set():
            await woken_or(mark, POLL_S if state["open_jobs"] else IDLE_POLL_S)
            try:
                new = await run_in_threadpool(_state, desk, session_id)
            except NotFoundError:
                yield "event: gone\ndata: {}\n\n"
                return
            if new != state:
                state, said = new, time.monotonic()
                yield _event(state)
            elif time.monotonic() - said > SIGN_OF_LIFE_S:
                said = time.monotonic()
                yield ": still here\n\n"
    finally:
        request.app.state.listening.discard(mark)


def _state(desk: Desk, session_id: UUID) -> dict[str, Any]:
    counts = ("version", "recordings", "strokes", "putts", "open_jobs")
    with desk.at_once():
        session = desk.sessions.get(session_id)
        jobs = desk.jobs.of_session(session_id)[:20]
        measured = len(desk.jobs.measured(session_id)) if session.open_jobs else 0
    state: dict[str, Any] = {name: getattr(session, name) for name in counts}
    return state | {"measured": measured, "jobs": _JOBS.dump_python(jobs, mode="json")}


def _event(state: dict[str, Any]) -> str:
    return f"event: progress\ndata: {json.dumps(state)}\n\n"
