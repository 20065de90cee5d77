"""Greens and how they were measured."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import Response
from pydantic import Field

from pacewright.app.desk.views import GreenReadingView, GreenView, Page, UndoView
from pacewright.web.api.common import After, Body, DeskDep, Limit, Version, created, part, tagged

router = part("greens")
Rolls = Annotated[list[Annotated[float, Field(gt=0.0, le=30.0)]], Field(max_length=50)]


class NewGreen(Body):
    """A green whose speed is stated: the level roll of the ramp in metres."""

    name: Annotated[str, Field(min_length=1, max_length=120)]
    speed_m: float
    place: Annotated[str, Field(max_length=200)] = ""
    speed_sd_m: Annotated[float | None, Field(ge=0.0, le=5.0)] = None
    slope_rad: float = 0.0
    cross_slope_rad: float = 0.0
    measured_how: Annotated[str, Field(max_length=60)] = "stated"
    notes: str = ""


class GreenChange(Body):
    """What changes of a green."""

    name: Annotated[str, Field(min_length=1, max_length=120)] = "-"
    speed_m: float = 3.0
    place: Annotated[str, Field(max_length=200)] = ""
    speed_sd_m: Annotated[float | None, Field(ge=0.0, le=5.0)] = None
    slope_rad: float = 0.0
    cross_slope_rad: float = 0.0
    notes: str = ""


class RampRolls(Body):
    """Rolls of the ramp up the slope and down it, in metres."""

    up_m: Rolls
    down_m: Rolls = Field(default=[])
    how: Annotated[str, Field(max_length=60)] = "ramp"


@router.get("/greens")
def list_greens(desk: DeskDep, after: After = None, limit: Limit = 50) -> Page[GreenView]:
    """Greens by name."""
    return desk.greens.list(after=after, limit=limit)


@router.post("/greens", status_code=201)
def create_green(desk: DeskDep, body: NewGreen, response: Response) -> GreenView:
    """A new green."""
    view = desk.greens.create(**body.model_dump())
    created(response, "greens", view)
    return view


@router.get("/greens/{green_id}")
def get_green(desk: DeskDep, green_id: UUID, response: Response) -> GreenView:
    """A green."""
    view = desk.greens.get(green_id)
    tagged(response, view)
    return view


@router.patch("/greens/{green_id}")
def change_green(
    desk: DeskDep, green_id: UUID, version: Version, body: GreenChange, response: Response
) -> GreenView:
    """Change what is sent; a new speed or slope is kept as a reading of its own."""
    view = desk.greens.update(green_id, version, **body.given())
    tagged(response, view)
    return view


@router.post("/greens/{green_id}/measure")
def measure_green(desk: DeskDep, green_id: UUID, body: RampRolls, response: Response) -> GreenView:
    """Measure a green anew from rolls of the ramp."""
    view = desk.greens.measure(green_id, body.up_m, body.down_m, how=body.how)
    tagged(response, view)
    return view


@router.get("/greens/{green_id}/readings")
def list_readings(desk: DeskDep, green_id: UUID) -> list[GreenReadingView]:
    """Every measuring of a green, newest first."""
    return list(desk.greens.readings(green_id))


@router.delete("/greens/{green_id}")
def delete_green(desk: DeskDep, green_id: UUID) -> UndoView:
    """Delete a green; sessions that were held on it keep its speed."""
    return desk.greens.delete(green_id)
