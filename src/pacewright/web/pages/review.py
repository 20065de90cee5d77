"""Stroke review: clip, equal-time dots and speed curve, with events that are moved by hand."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.views import StrokeView
from pacewright.core.equipment import BALL_DIAMETER_M
from pacewright.core.errors import PacewrightError
from pacewright.core.registry import EVENTS, MEASURES
from pacewright.core.stroke import StrokeCurve
from pacewright.web.access import DeskDep
from pacewright.web.pages.figures import json_number
from pacewright.web.pages.site import show

router = APIRouter()
STEP_S = 0.02


@router.get("/strokes/{stroke_id}")
def review(request: Request, desk: DeskDep, stroke_id: UUID, beside: str = "") -> HTMLResponse:
    """One stroke, or two side by side: of two players only where both agreed to it."""
    stroke = desk.strokes.get(stroke_id)
    session = desk.sessions.get(stroke.session_id)
    strokes = desk.strokes.list(session_id=session.id, limit=500).items
    place = next((k for k, one in enumerate(strokes) if one.id == stroke.id), None)
    second, refused = _beside(desk, stroke, beside)
    return show(
        request, "review.html", tab="players", stroke=stroke, session=session,
        number=stroke.number + 1 if place is None else place + 1,
        before=strokes[place - 1] if place else None,
        after=strokes[place + 1] if place is not None and place + 1 < len(strokes) else None,
        clip=_clip(desk, stroke), drawing=_drawing(desk, stroke), choices=_choices(desk, stroke, strokes),
        beside_drawing=None if second is None else _drawing(desk, second), refused=refused,
        **_figures(desk, stroke, second),
    )  # fmt: skip


@router.get("/strokes/{stroke_id}/part")
def review_part(request: Request, desk: DeskDep, stroke_id: UUID, beside: str = "") -> HTMLResponse:
    """Figures and drawing of a stroke after it was measured again."""
    stroke = desk.strokes.get(stroke_id)
    second, _ = _beside(desk, stroke, beside)
    return show(
        request,
        "review_part.html",
        stroke=stroke,
        drawing=_drawing(desk, stroke),
        **_figures(desk, stroke, second),
    )


def _figures(desk: Desk, stroke: StrokeView, beside: StrokeView | None) -> dict[str, Any]:
    known = stroke.measures.keys() | (beside.measures.keys() if beside is not None else set())
    corrections = desk.strokes.corrections(stroke.recording_id)
    return {
        "names": [name for name in MEASURES if name in known], "beside": beside,
        "beside_name": "" if beside is None else _name(desk, beside),
        "corrections": [one for one in corrections if one.stroke_number == stroke.number],
    }  # fmt: skip


def _name(desk: Desk, stroke: StrokeView) -> str:
    """Whose stroke, of which day, the how manieth of its recording."""
    session = desk.sessions.get(stroke.session_id)
    return f"{session.player_name}, {session.held_on}, {stroke.number + 1}"


def _beside(desk: Desk, stroke: StrokeView, beside: str) -> tuple[StrokeView | None, str]:
    """The stroke to stand beside, or why it may not."""
    if not beside:
        return None, ""
    try:
        second = desk.strokes.get(UUID(beside))
    except (ValueError, PacewrightError) as error:
        return None, str(error)
    if second.player_id == stroke.player_id:
        return second, ""
    players = (stroke.player_id, second.player_id)
    missing = [sentence for one in players for sentence in desk.consents.missing(one, "sharing")]
    return (None, " ".join(missing)) if missing else (second, "")


def _choices(desk: Desk, stroke: StrokeView, strokes: tuple[StrokeView, ...]) -> list[Any]:
    """Strokes to stand beside: of this session, the player's newest others, and players who agreed to it."""
    own = [{"id": one.id, "text": f"{k + 1}"} for k, one in enumerate(strokes) if one.id != stroke.id]
    groups = [(desk.sessions.get(stroke.session_id).held_on.isoformat(), own)]
    earlier = desk.strokes.list(player_id=stroke.player_id, newest_first=True, limit=60).items
    others = [one for one in earlier if one.session_id != stroke.session_id][:12]
    days = {one: desk.sessions.get(one).held_on for one in {other.session_id for other in others}}
    if others:
        groups.append(("", [_choice(f"{days[one.session_id]} · {one.number + 1}", one) for one in others]))
    if desk.settings.all()["show_other_players"] and not desk.consents.missing(stroke.player_id, "sharing"):
        groups += _of_others(desk, stroke)
    return [group for group in groups if group[1]]


def _of_others(desk: Desk, stroke: StrokeView) -> list[Any]:
    found = []
    for line in desk.players.list(limit=60).items:
        if line.id == stroke.player_id or desk.consents.missing(line.id, "sharing"):
            continue
        newest = desk.strokes.list(player_id=line.id, newest_first=True, limit=3).items
        found.append((line.name, [_choice(f"{line.name} · {one.number + 1}", one) for one in newest]))
    return found


def _choice(text: str, stroke: StrokeView) -> dict[str, Any]:
    return {"id": stroke.id, "text": text}


def _clip(desk: Desk, stroke: StrokeView) -> dict[str, str] | None:
    if desk.recordings.get(stroke.recording_id).kind != "clip":
        return None
    return {"address": f"/api/v1/recordings/{stroke.recording_id}/content"}


def _drawing(desk: Desk, stroke: StrokeView) -> dict[str, Any]:
    """What the browser draws: curve, equal-time step, events in seconds from contact, frames of the clip."""
    curve = desk.strokes.curve(stroke.id)
    impact = stroke.events.get("impact")
    zero = impact.value if impact is not None else 0.0
    return {
        "id": str(stroke.id), "kind": stroke.kind, "impact_s": zero, "step_s": STEP_S,
        "ball_m": BALL_DIAMETER_M, "curve": None if curve is None else _points(curve),
        "events": {
            name: {"time_s": stroke.events[name].value - zero, "sd_s": json_number(stroke.events[name].sd)}
            for name in EVENTS if name in stroke.events
        },
        "frames": _frames(desk, stroke),
    }  # fmt: skip


def _points(curve: StrokeCurve) -> dict[str, Any]:
    return {
        "time_s": [round(value, 5) for value in curve.time_s.tolist()],
        "position_m": [json_number(round(value, 6)) for value in curve.position_m.tolist()],
        "speed_m_s": [json_number(round(value, 5)) for value in curve.speed_m_s.tolist()],
        "speed_after_m_s": json_number(curve.speed_after_m_s),
    }


def _frames(desk: Desk, stroke: StrokeView) -> dict[str, Any] | None:
    """Capture times of the frames around a stroke, and where each lies in the playing of the clip."""
    track = desk.strokes.clip_track(stroke.recording_id)
    if track is None or len(track.frame) == 0:
        return None
    return {
        "number": track.frame.tolist(), "time_s": [round(value, 6) for value in track.time_s.tolist()],
        "play_rate_hz": track.play_rate_hz,
    }  # fmt: skip
