"""The station: markers for a length and a beat, to drag, print and play."""

from __future__ import annotations

from uuid import UUID

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from pacewright.app.desk.practice import StationRequest
from pacewright.app.outputs import BeatPlan
from pacewright.web.access import DeskDep
from pacewright.web.pages.players import attachment
from pacewright.web.pages.site import at_once, show, units_of

router = APIRouter()
USUAL_BEAT = 90


@router.get("/players/{player_id}/station")
@at_once
def station(request: Request, desk: DeskDep, player_id: UUID) -> HTMLResponse:
    """The station of a player on a green that was measured; the beat is the player's where it is known."""
    player = desk.players.get(player_id)
    tempo = desk.story.figures(player_id)["tempo"]["body"]
    beat = (tempo or {}).get("beats_per_minute") or USUAL_BEAT
    return show(
        request, "station.html", tab="players", player=player, greens=desk.greens.list(limit=200).items,
        putters=desk.putters.of_player(player_id), kept=desk.stations.of_player(player_id).items,
        beat=round(beat),
    )  # fmt: skip


@router.get("/players/{player_id}/station/part")
@at_once
def station_part(
    request: Request,
    desk: DeskDep,
    player_id: UUID,
    length_m: float,
    beats: float,
    green: UUID,
    putter: str = "",
) -> HTMLResponse:
    """The figures of a station as text, and as data for the drawing."""
    wanted = _request(length_m, beats, green, putter)
    return show(request, "station_part.html", station=desk.stations.preview(player_id, wanted))


@router.get("/players/{player_id}/station/strip.pdf")
def strip(
    desk: DeskDep, player_id: UUID, length_m: float, beats: float, green: UUID, putter: str = ""
) -> Response:
    """The marker strip at true scale, to print."""
    wanted = _request(length_m, beats, green, putter)
    paper = desk.settings.all()["paper"]
    data = desk.reports.strip(player_id, wanted, paper=paper, units=units_of(desk))
    return Response(data, media_type="application/pdf", headers=attachment("strip.pdf"))


@router.get("/players/{player_id}/station/beats.wav")
def beats(desk: DeskDep, player_id: UUID, beats: float) -> Response:
    """The beat as a file, for a player's telephone."""
    desk.players.get(player_id)
    data = desk.reports.beats(BeatPlan(beats_per_minute=beats))
    return Response(data, media_type="audio/wav", headers=attachment(f"beats-{beats:g}.wav"))


def _request(length_m: float, beats: float, green: UUID, putter: str) -> StationRequest:
    return StationRequest((length_m,), green, beats, UUID(putter) if putter else None)
