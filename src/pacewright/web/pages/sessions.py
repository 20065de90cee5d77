"""A session in progress: outcomes by thumb, recordings, strokes as they are analysed."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.jobs import MeasuredView
from pacewright.app.desk.pictures import session_pictures
from pacewright.app.desk.sessions import KINDS
from pacewright.app.desk.views import PuttView, SessionView, StrokeView
from pacewright.core.errors import QualityError
from pacewright.web.access import DeskDep
from pacewright.web.pages.site import at_once, show, units_of

router = APIRouter()
COLUMNS = (
    "backswing_time_s", "downswing_time_s", "time_ratio", "backswing_length_m", "follow_through_length_m",
    "impact_speed_m_s", "impact_acceleration_index", "ball_speed_m_s", "roll_out_m",
)  # fmt: skip
MOST_SHOWN = 200


@router.get("/sessions/{session_id}")
@at_once
def session(request: Request, desk: DeskDep, session_id: UUID) -> HTMLResponse:
    """The session that the coach works in; looking at practice that came in marks it as read."""
    found = desk.sessions.get(session_id)
    if found.is_unread and desk.actor.role != "player":
        found = desk.sessions.mark_read(session_id)
    putts = _putts(desk, session_id)
    works_here = desk.actor.role != "player"
    return show(
        request, "session.html", tab="players", session=found, putts=putts, kinds=KINDS,
        missing=desk.consents.missing(found.player_id, "recording"),
        asked_m=putts[-1].asked_m if putts else None,
        greens=desk.greens.list(limit=200).items if works_here else (), **_analysed(desk, found),
    )  # fmt: skip


@router.get("/sessions/{session_id}/putts")
@at_once
def putts_part(request: Request, desk: DeskDep, session_id: UUID) -> HTMLResponse:
    """The putts so far, newest first."""
    return show(request, "putts_part.html", putts=_putts(desk, session_id))


@router.get("/sessions/{session_id}/part")
@at_once
def session_part(request: Request, desk: DeskDep, session_id: UUID) -> HTMLResponse:
    """Recordings with their progress, strokes and findings."""
    found = desk.sessions.get(session_id)
    return show(request, "session_part.html", session=found, **_analysed(desk, found))


@router.get("/sessions/{session_id}/pictures")
def pictures(request: Request, desk: DeskDep, session_id: UUID) -> HTMLResponse:
    """How like one another the strokes of a session are."""
    try:
        drawn = session_pictures(desk, session_id, units_of(desk))
    except QualityError:
        drawn = {}
    return show(request, "pictures.html", pictures=list(drawn.values()))


def _putts(desk: Desk, session_id: UUID) -> tuple[PuttView, ...]:
    return desk.putts.list(session_id=session_id, limit=500).items


def _analysed(desk: Desk, session: SessionView) -> dict[str, Any]:
    recordings = desk.recordings.of_session(session.id)
    strokes = desk.strokes.list(session_id=session.id, limit=MOST_SHOWN).items if session.strokes else ()
    so_far = desk.jobs.measured(session.id)[:MOST_SHOWN] if session.open_jobs else ()
    shown: tuple[StrokeView | MeasuredView, ...] = (*strokes, *so_far)
    present = [name for name in COLUMNS if any(name in stroke.measures for stroke in shown)]
    newest = max((one.analysis_id.hex for one in recordings if one.analysis_id is not None), default="")
    return {
        "recordings": recordings, "strokes": strokes, "so_far": so_far, "columns": present, "version": newest,
        "heard": desk.recordings.heard(session.id),
        "findings": desk.strokes.findings(session_id=session.id, limit=12) if strokes else (),
    }  # fmt: skip
