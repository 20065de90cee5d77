"""Stations, plans and drills."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal
from uuid import UUID

from fastapi import Query, Response
from pydantic import AfterValidator, Field

from pacewright.app.desk.kept import plan_request
from pacewright.app.desk.practice import PlanRequest, StationRequest
from pacewright.app.desk.views import DrillResultView, Page, PlanView, StationView, UndoView
from pacewright.app.outputs import BeatPlan
from pacewright.app.stations import station_dict
from pacewright.core.display import Units
from pacewright.web.api.common import After, Body, DeskDep, Limit, check_sayable, created, part, tagged
from pacewright.web.sending import attachment

router = part("practice")
Paper = Literal["a4", "letter"]
Lengths = Annotated[list[Annotated[float, Field(gt=0.0, le=100.0)]], Field(min_length=1, max_length=24)]
Drill = Annotated[str | None, Query(max_length=80), AfterValidator(check_sayable)]
Beat = Annotated[float, Field(ge=20.0, le=240.0)]
_PDF: dict[int | str, dict[str, Any]] = {200: {"content": {"application/pdf": {}}}}
_SOUND: dict[int | str, dict[str, Any]] = {200: {"content": {"audio/wav": {}, "audio/flac": {}}}}
_PLAN: dict[int | str, dict[str, Any]] = {
    200: {"content": {"application/pdf": {}, "text/html": {}, "text/calendar": {}}}
}


class StationWish(Body):
    """What a station is made from; ``own`` takes the player's own constant from its strokes."""

    lengths_m: Lengths
    green_id: UUID
    beats_per_minute: Beat = 90.0
    putter_id: UUID | None = None
    distance_tolerance_share: Annotated[float, Field(gt=0.0, lt=1.0)] = 0.10
    beyond_m: Annotated[float, Field(ge=0.0, le=5.0)] = 0.0
    own: bool = True

    def request(self) -> StationRequest:
        """For the desk."""
        return StationRequest(
            **self.model_dump(exclude={"session_id"}) | {"lengths_m": tuple(self.lengths_m)}
        )


class StationKept(StationWish):
    """A station to keep, with the session it was made in."""

    session_id: UUID | None = None


class PlanWish(Body):
    """What a plan is made from; without a beat the one that was found with the player, else 90."""

    lengths_m: Lengths
    start: dt.date
    weekdays: Annotated[list[Annotated[str, Field(max_length=12)]], Field(max_length=7)] = Field(
        default=["mon", "thu"]
    )
    weeks: Annotated[int, Field(ge=1, le=26)] = 4
    sessions: Annotated[int, Field(ge=0, le=60)] = 0
    minutes: Annotated[int, Field(ge=5, le=300)] = 40
    test_putts: Annotated[int, Field(ge=1, le=200)] = 30
    beats_per_minute: Beat | None = None
    green_id: UUID | None = None

    def request(self) -> PlanRequest:
        """For the desk."""
        told = {"lengths_m": tuple(self.lengths_m), "weekdays": tuple(self.weekdays)}
        return PlanRequest(**self.model_dump() | told)


class NewDrill(Body):
    """One go at a drill."""

    drill: Annotated[str, Field(min_length=1, max_length=80)]
    score: dict[str, Any] = Field(default={})
    plan_id: UUID | None = None


@router.post("/players/{player_id}/stations/preview")
def preview_station(desk: DeskDep, player_id: UUID, body: StationWish) -> dict[str, Any]:
    """A station that is not kept, in the words of ``station --json``: for dragging a length or the beat."""
    return station_dict(desk.stations.preview(player_id, body.request()))


@router.post("/players/{player_id}/stations", status_code=201)
def keep_station(desk: DeskDep, player_id: UUID, body: StationKept, response: Response) -> StationView:
    """Make a station and keep it."""
    view = desk.stations.keep(player_id, body.request(), session_id=body.session_id)
    created(response, "stations", view)
    return view


@router.get("/players/{player_id}/stations")
def list_stations(
    desk: DeskDep, player_id: UUID, after: After = None, limit: Limit = 20
) -> Page[StationView]:
    """A player's stations, newest first."""
    return desk.stations.of_player(player_id, after=after, limit=limit)


@router.get("/stations/{station_id}")
def get_station(desk: DeskDep, station_id: UUID) -> StationView:
    """A kept station."""
    return desk.stations.get(station_id)


@router.get("/stations/{station_id}/strip", response_class=Response, responses=_PDF)
def station_strip(desk: DeskDep, station_id: UUID, paper: Paper = "a4", units: Units = "metric") -> Response:
    """The marker strip at true scale, as PDF."""
    view = desk.stations.get(station_id)
    data = desk.reports.strip(view.player_id, _kept_request(view), paper=paper, units=units)
    return attachment(data, "application/pdf", "marker-strip.pdf")


@router.get("/stations/{station_id}/beats", response_class=Response, responses=_SOUND)
def station_beats(
    desk: DeskDep, station_id: UUID, kind: Literal["wav", "flac"] = "wav",
    repeats: Annotated[int, Query(ge=1, le=60)] = 10,
) -> Response:  # fmt: skip
    """The click track of a station."""
    beat = desk.stations.get(station_id).body["beats_per_minute"]
    data = desk.reports.beats(BeatPlan(beats_per_minute=beat, repeats=repeats), kind)
    return attachment(data, f"audio/{kind}", f"beats.{kind}")


@router.delete("/stations/{station_id}")
def delete_station(desk: DeskDep, station_id: UUID) -> UndoView:
    """Delete a station; it can be taken back."""
    return desk.stations.delete(station_id)


@router.post("/players/{player_id}/plans", status_code=201)
def make_plan(desk: DeskDep, player_id: UUID, body: PlanWish, response: Response) -> PlanView:
    """Make a plan from the player's figures and keep it as the active one."""
    view = desk.plans.make(player_id, body.request())
    created(response, "plans", view)
    return view


@router.get("/players/{player_id}/plans")
def list_plans(desk: DeskDep, player_id: UUID, after: After = None, limit: Limit = 20) -> Page[PlanView]:
    """A player's plans, newest first."""
    return desk.plans.of_player(player_id, after=after, limit=limit)


@router.get("/players/{player_id}/plans/active")
def active_plan(desk: DeskDep, player_id: UUID) -> PlanView | None:
    """The player's active plan, null when there is none."""
    return desk.plans.active(player_id)


@router.get("/plans/{plan_id}")
def get_plan(desk: DeskDep, plan_id: UUID, response: Response) -> PlanView:
    """A plan, its ``body`` in the words of ``plan --json``."""
    view = desk.plans.get(plan_id)
    tagged(response, view)
    return view


@router.get("/plans/{plan_id}/file", response_class=Response, responses=_PLAN)
def plan_file(
    desk: DeskDep, plan_id: UUID, kind: Literal["pdf", "html", "ics"] = "pdf", units: Units = "metric",
    paper: Paper = "a4",
) -> Response:  # fmt: skip
    """The plan to hand over: PDF, page or calendar."""
    view = desk.plans.get(plan_id)
    data = desk.reports.plan(view.player_id, plan_request(view.request), kind, units=units, paper=paper)
    media = {"pdf": "application/pdf", "html": "text/html", "ics": "text/calendar"}
    return attachment(data, media[kind], f"plan.{kind}")


@router.post("/plans/{plan_id}/end")
def end_plan(desk: DeskDep, plan_id: UUID, response: Response) -> PlanView:
    """End a plan: it is kept, but not the active one any more."""
    view = desk.plans.end(plan_id)
    tagged(response, view)
    return view


@router.delete("/plans/{plan_id}")
def delete_plan(desk: DeskDep, plan_id: UUID) -> UndoView:
    """Delete a plan; it can be taken back."""
    return desk.plans.delete(plan_id)


@router.get("/players/{player_id}/drill-results")
def list_drills(desk: DeskDep, player_id: UUID, drill: Drill = None) -> list[DrillResultView]:
    """A player's goes at drills, oldest first."""
    return list(desk.plans.drill_results(player_id, drill))


@router.post("/sessions/{session_id}/drill-results", status_code=201)
def add_drill(desk: DeskDep, session_id: UUID, body: NewDrill) -> DrillResultView:
    """Keep one go at a drill."""
    return desk.plans.add_drill_result(session_id, body.drill, body.score, plan_id=body.plan_id)


def _kept_request(view: StationView) -> StationRequest:
    kept = view.request
    putter = kept["putter_id"]
    return StationRequest(
        tuple(kept["lengths_m"]), UUID(kept["green_id"]), kept["beats_per_minute"],
        None if putter is None else UUID(putter), kept["distance_tolerance_share"], kept["beyond_m"],
        kept["own"],
    )  # fmt: skip
