"""Stroke review: clip, equal-time dots and speed curve, with events that are moved by hand."""

from __future__ import annotations

from itertools import groupby
from typing import Any
from uuid import UUID

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from pacewright.app.desk.comparing import Neighbours
from pacewright.app.desk.desk import Desk
from pacewright.app.desk.views import StrokeLine, StrokeView
from pacewright.core.equipment import BALL_DIAMETER_M
from pacewright.core.errors import PacewrightError
from pacewright.core.registry import EVENTS, MEASURES
from pacewright.core.stroke import StrokeCurve
from pacewright.web.access import DeskDep
from pacewright.web.pages.figures import json_number
from pacewright.web.pages.site import at_once, show

router = APIRouter()
STEP_S = 0.02


@router.get("/strokes/{stroke_id}")
@at_once
def review(request: Request, desk: DeskDep, stroke_id: UUID, beside: str = "") -> HTMLResponse:
    """One stroke, or two side by side: of two players only where both agreed to it."""
    stroke = desk.strokes.get(stroke_id)
    around = desk.strokes.neighbours(stroke_id, with_others=desk.settings.all()["show_other_players"])
    strokes, line = around.session, around.line
    place = next((k for k, one in enumerate(strokes) if one.id == stroke.id), None)
    second, refused = _beside(desk, stroke, beside)
    return show(
        request, "review.html", tab="players", stroke=stroke, line=line,
        number=stroke.number + 1 if place is None else place + 1,
        before=strokes[place - 1] if place else None,
        after=strokes[place + 1] if place is not None and place + 1 < len(strokes) else None,
        clip=_clip(line, stroke.recording_id), drawing=_drawing(desk, stroke, line), choices=_choices(around),
        beside_drawing=None if second is None else _drawing(desk, second, desk.strokes.line(second.id)),
        refused=refused, **_figures(desk, stroke, second),
    )  # fmt: skip


@router.get("/strokes/{stroke_id}/part")
@at_once
def review_part(request: Request, desk: DeskDep, stroke_id: UUID, beside: str = "") -> HTMLResponse:
    """Figures and drawing of a stroke after it was measured again."""
    stroke = desk.strokes.get(stroke_id)
    second, _ = _beside(desk, stroke, beside)
    return show(
        request,
        "review_part.html",
        stroke=stroke,
        drawing=_drawing(desk, stroke, desk.strokes.line(stroke_id)),
        **_figures(desk, stroke, second),
    )


def _figures(desk: Desk, stroke: StrokeView, beside: StrokeView | None) -> dict[str, Any]:
    known = stroke.measures.keys() | (beside.measures.keys() if beside is not None else set())
    corrections = desk.strokes.corrections(stroke.recording_id)
    return {
        "names": [name for name in MEASURES if name in known], "beside": beside,
        "beside_name": "" if beside is None else _name(desk.strokes.line(beside.id)),
        "corrections": [one for one in corrections if one.stroke_number == stroke.number],
    }  # fmt: skip


def _name(line: StrokeLine) -> str:
    """Whose stroke, of which day, the how manieth of its recording."""
    return f"{line.player_name}, {line.held_on}, {line.number + 1}"


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


def _choices(around: Neighbours) -> list[tuple[str, list[dict[str, Any]]]]:
    """Strokes to stand beside: of this session, the player's newest others, and players who agreed to it."""
    own = [_choice(f"{k + 1}", one) for k, one in enumerate(around.session) if one.id != around.line.id]
    earlier = [_choice(f"{one.held_on} · {one.number + 1}", one) for one in around.earlier]
    groups = [(around.line.held_on.isoformat(), own), ("", earlier)]
    for _, lines in groupby(around.others, key=lambda one: one.player_id):
        choices = [(one.player_name, one) for one in lines]
        groups.append((choices[0][0], [_choice(f"{name} · {one.number + 1}", one) for name, one in choices]))
    return [group for group in groups if group[1]]


def _choice(text: str, stroke: StrokeLine) -> dict[str, Any]:
    return {"id": stroke.id, "text": text}


def _clip(line: StrokeLine, recording_id: UUID) -> dict[str, str] | None:
    if line.recording_kind != "clip":
        return None
    return {"address": f"/api/v1/recordings/{recording_id}/content"}


def _drawing(desk: Desk, stroke: StrokeView, line: StrokeLine) -> dict[str, Any]:
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
        "frames": _frames(desk, stroke) if line.recording_kind == "clip" else None,
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
