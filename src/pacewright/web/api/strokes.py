"""Strokes in the words of ``assess --json``, their curves, what was seen in a clip, events moved by hand."""

from __future__ import annotations

import math
from typing import Annotated
from uuid import UUID

import numpy as np
from fastapi import Query
from pydantic import BaseModel
from starlette.exceptions import HTTPException

from pacewright.app.desk.views import EventName, FindingView, Page, StrokeView
from pacewright.core.recording import FloatArray
from pacewright.web.api.common import (
    After,
    Body,
    DeskDep,
    Figure,
    Limit,
    Note,
    figures,
    notes,
    part,
)

router = part("strokes")


class Stroke(BaseModel):
    """A stroke: events as ``takeaway_time_s`` … on the recording's clock, measures by their names."""

    id: UUID
    player_id: UUID
    session_id: UUID
    recording_id: UUID
    analysis_id: UUID
    number: int
    kind: str
    is_current: bool
    asked_m: float | None
    events: dict[str, Figure]
    measures: dict[str, Figure]
    quality: list[Note]


class Curve(BaseModel):
    """The fitted stroke along the line, time and place zero at contact."""

    time_s: list[float | None]
    position_m: list[float | None]
    speed_m_s: list[float | None]
    speed_after_m_s: float | None


class Track(BaseModel):
    """What was seen in a clip, frame by frame, in pixels of the upright picture; null where nothing was."""

    view: str
    picture_size_px: tuple[int, int]
    play_rate_hz: float
    frame: list[int]
    time_s: list[float | None]
    head_px: list[list[float | None]]
    head_confidence: list[float | None]
    ball_px: list[list[float | None]]
    ball_confidence: list[float | None]
    ball_radius_px: float | None


class Moved(Body):
    """The time of an event in seconds on the recording's clock."""

    time_s: float


@router.get("/strokes/{stroke_id}")
def get_stroke(desk: DeskDep, stroke_id: UUID) -> Stroke:
    """A stroke."""
    return _stroke(desk.strokes.get(stroke_id))


@router.get("/players/{player_id}/strokes")
def strokes_of_player(
    desk: DeskDep, player_id: UUID, after: After = None, limit: Limit = 100, newest_first: bool = False
) -> Page[Stroke]:
    """A player's current strokes."""
    return _page(desk.strokes.list(player_id=player_id, after=after, limit=limit, newest_first=newest_first))


@router.get("/sessions/{session_id}/strokes")
def strokes_of_session(
    desk: DeskDep, session_id: UUID, after: After = None, limit: Limit = 100
) -> Page[Stroke]:
    """The current strokes of a session in the order recorded."""
    return _page(desk.strokes.list(session_id=session_id, after=after, limit=limit))


@router.get("/recordings/{recording_id}/strokes")
def strokes_of_recording(
    desk: DeskDep, recording_id: UUID, after: After = None, limit: Limit = 100
) -> Page[Stroke]:
    """The current strokes of a recording."""
    return _page(desk.strokes.list(recording_id=recording_id, after=after, limit=limit))


@router.get("/strokes/{stroke_id}/curve")
def get_curve(desk: DeskDep, stroke_id: UUID) -> Curve:
    """The fitted curve of a stroke."""
    curve = desk.strokes.curve(stroke_id)
    if curve is None:
        raise HTTPException(404, "No curve of this stroke was kept.")
    after = curve.speed_after_m_s
    return Curve(
        time_s=_plain(curve.time_s),
        position_m=_plain(curve.position_m),
        speed_m_s=_plain(curve.speed_m_s),
        speed_after_m_s=after if math.isfinite(after) else None,
    )


@router.get("/recordings/{recording_id}/track")
def get_track(desk: DeskDep, recording_id: UUID) -> Track:
    """What was seen in a clip."""
    track = desk.strokes.clip_track(recording_id)
    if track is None:
        raise HTTPException(404, "This recording is no clip, or it was not analysed yet.")
    radius = float(track.ball_radius_px)
    return Track(
        view=track.view, picture_size_px=track.picture_size_px, play_rate_hz=track.play_rate_hz,
        frame=track.frame.tolist(), time_s=_plain(track.time_s), head_px=_points(track.head_px),
        head_confidence=_plain(track.head_confidence), ball_px=_points(track.ball_px),
        ball_confidence=_plain(track.ball_confidence),
        ball_radius_px=radius if math.isfinite(radius) else None,
    )  # fmt: skip


@router.put("/strokes/{stroke_id}/events/{event}")
def move_event(desk: DeskDep, stroke_id: UUID, event: EventName, body: Moved) -> Stroke:
    """Set the time of an event by hand and measure the stroke again.

    The recording gets a new analysis, and the stroke that stands now comes back, with another id. 409 when
    the stroke was measured again meanwhile.
    """
    return _stroke(desk.strokes.move_event(stroke_id, event, body.time_s))


@router.get("/players/{player_id}/findings")
def findings_of_player(
    desk: DeskDep, player_id: UUID, limit: Annotated[int, Query(ge=1, le=200)] = 50
) -> list[FindingView]:
    """The findings of a player, newest first."""
    return list(desk.strokes.findings(player_id=player_id, limit=limit))


def _stroke(view: StrokeView) -> Stroke:
    return Stroke(
        id=view.id, player_id=view.player_id, session_id=view.session_id, recording_id=view.recording_id,
        analysis_id=view.analysis_id, number=view.number, kind=view.kind, is_current=view.is_current,
        asked_m=view.asked_m, events=figures(view.events, "_time_s"), measures=figures(view.measures),
        quality=notes(view.quality),
    )  # fmt: skip


def _page(found: Page[StrokeView]) -> Page[Stroke]:
    return Page(tuple(_stroke(view) for view in found.items), found.next)


def _plain(values: FloatArray) -> list[float | None]:
    return [
        None if gone else value for value, gone in zip(values.tolist(), ~np.isfinite(values), strict=True)
    ]


def _points(values: FloatArray) -> list[list[float | None]]:
    return [_plain(row) for row in values]
