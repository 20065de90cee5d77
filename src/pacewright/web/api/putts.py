"""Putts: where the balls finished, as figures or as they are called out."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal
from uuid import UUID

from fastapi import Request, Response
from fastapi.concurrency import run_in_threadpool
from pydantic import Field, model_validator
from starlette.exceptions import HTTPException

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.putts import MOST_AT_ONCE, NewPutt
from pacewright.app.desk.views import Page, PuttView, UndoView
from pacewright.app.spoken import spoken_outcome
from pacewright.core.outcome import Outcome
from pacewright.core.units import parse_length
from pacewright.web.api.common import After, Body, DeskDep, Limit, Name, Version, created, part, tagged

router = part("putts")
Phase = Literal["", "learning", "retention", "transfer"]
_TABLE = {"requestBody": {"required": True, "content": {"text/csv": {"schema": {"type": "string"}}}}}


class Entry(Body):
    """A putt that was played.

    The length asked in metres, or in words (``asked``: ``10ft``). Where it finished as figures, or as it is
    called out (``finish``: ``+2ft``, ``-40cm``, ``in``, ``holed 1ft past``); the player's guess likewise.
    ``client_id`` names the putt for its sender: sent again, it is kept once.
    """

    asked_m: float | None = None
    asked: Annotated[str, Field(max_length=40)] = ""
    finish: Annotated[str, Field(max_length=60)] = ""
    finish_along_m: float | None = None
    finish_across_m: float | None = None
    finish_sd_m: Annotated[float, Field(ge=0.0, le=10.0)] = 0.0
    holed: bool = False
    guess: Annotated[str, Field(max_length=60)] = ""
    guess_along_m: float | None = None
    block: Annotated[str, Field(max_length=60)] = ""
    phase: Phase = ""
    beats_per_minute: float | None = None
    beat_error_s: float | None = None
    stroke_id: UUID | None = None
    client_id: Annotated[str | None, Field(min_length=1, max_length=80)] = None
    played_at: dt.datetime | None = None

    @model_validator(mode="after")
    def _is_whole(self) -> Entry:
        if (self.asked_m is None) == (not self.asked):
            raise ValueError("say the length asked once: asked_m in metres, or asked in words")
        if self.played_at is not None and self.played_at.tzinfo is None:
            raise ValueError("played_at says its zone")
        return self


class Entries(Body):
    """Several putts in the order played: all are kept, or none."""

    putts: Annotated[list[Entry], Field(min_length=1, max_length=MOST_AT_ONCE)]


class PuttChange(Body):
    """What changes of a putt; a new finish is told whole."""

    asked_m: float = 0.0
    finish: Annotated[str, Field(max_length=60)] = ""
    finish_along_m: float | None = None
    finish_across_m: float | None = None
    holed: bool = False
    guess_along_m: float | None = None
    block: Annotated[str, Field(max_length=60)] = ""
    phase: Phase = ""
    beats_per_minute: float | None = None


class Link(Body):
    """The stroke that made a putt; null for none."""

    stroke_id: UUID | None


class Comfort(Body):
    """The beat of a block, and the player's own mark for it from 1 to 5."""

    beats_per_minute: float
    comfort: float | None = None


class Paired(Body):
    """How many putts found their stroke."""

    pairs: int


@router.post("/sessions/{session_id}/putts", status_code=201)
def add_putts(
    desk: DeskDep, session_id: UUID, body: Entry | Entries, response: Response
) -> PuttView | list[PuttView]:
    """Keep one putt, or several in the order played."""
    if isinstance(body, Entries):
        return list(desk.putts.add(session_id, [_new(entry) for entry in body.putts]))
    view = desk.putts.add(session_id, [_new(body)])[0]
    created(response, "putts", view)
    return view


@router.post("/sessions/{session_id}/putts/table", status_code=201, openapi_extra=_TABLE)
async def add_table(request: Request, desk: DeskDep, session_id: UUID) -> list[PuttView]:
    """Keep the putts of a table (CSV); the same table twice is kept once."""
    data = await request.body()
    return list(await run_in_threadpool(desk.putts.add_table, session_id, data, "putts.csv"))


@router.post("/sessions/{session_id}/putts/pair")
def pair(desk: DeskDep, session_id: UUID) -> Paired:
    """Pair putts and strokes in their order, where there are as many of the one as of the other."""
    return Paired(pairs=desk.putts.pair(session_id))


@router.put("/sessions/{session_id}/blocks/{block}", status_code=204)
def set_comfort(desk: DeskDep, session_id: UUID, block: Name, body: Comfort) -> None:
    """Note the beat of a block and the player's mark for it."""
    desk.putts.comfort(session_id, block, body.beats_per_minute, body.comfort)


@router.get("/sessions/{session_id}/putts")
def putts_of_session(
    desk: DeskDep, session_id: UUID, after: After = None, limit: Limit = 200
) -> Page[PuttView]:
    """The putts of a session in the order played."""
    return desk.putts.list(session_id=session_id, after=after, limit=limit)


@router.get("/players/{player_id}/putts")
def putts_of_player(
    desk: DeskDep, player_id: UUID, after: After = None, limit: Limit = 200
) -> Page[PuttView]:
    """The putts of a player in the order played."""
    return desk.putts.list(player_id=player_id, after=after, limit=limit)


@router.get("/putts/{putt_id}")
def get_putt(desk: DeskDep, putt_id: UUID, response: Response) -> PuttView:
    """A putt."""
    view = desk.putts.get(putt_id)
    tagged(response, view)
    return view


@router.patch("/putts/{putt_id}")
def change_putt(
    desk: DeskDep, putt_id: UUID, version: Version, body: PuttChange, response: Response
) -> PuttView:
    """Change what is sent; the rest stays."""
    changes = body.given()
    finish = {
        name: changes.pop(name) for name in tuple(changes) if name.startswith("finish") or name == "holed"
    }
    outcome = _changed_outcome(desk, putt_id, body, finish) if finish else None
    view = desk.putts.update(putt_id, version, outcome=outcome, **changes)
    tagged(response, view)
    return view


@router.put("/putts/{putt_id}/stroke")
def link_putt(desk: DeskDep, putt_id: UUID, body: Link, response: Response) -> PuttView:
    """Say which stroke made a putt."""
    view = desk.putts.link(putt_id, body.stroke_id)
    tagged(response, view)
    return view


@router.delete("/putts/{putt_id}")
def delete_putt(desk: DeskDep, putt_id: UUID) -> UndoView:
    """Delete a putt; it can be taken back."""
    return desk.putts.delete(putt_id)


def _new(entry: Entry) -> NewPutt:
    asked_m = parse_length(entry.asked) if entry.asked_m is None else entry.asked_m
    outcome = _outcome(entry, asked_m)
    return NewPutt(
        asked_m, outcome, _guess(entry, asked_m), entry.block, entry.phase, entry.beats_per_minute,
        entry.beat_error_s, stroke_id=entry.stroke_id, client_id=entry.client_id, played_at=entry.played_at,
    )  # fmt: skip


def _outcome(entry: Entry, asked_m: float) -> Outcome:
    if not entry.finish:
        return Outcome(entry.finish_along_m, entry.finish_across_m, entry.holed, entry.finish_sd_m)
    if entry.finish_along_m is not None or entry.holed:
        raise HTTPException(422, "Say where it finished once: in words, or in figures.")
    return spoken_outcome(entry.finish, asked_m)


def _guess(entry: Entry, asked_m: float) -> float | None:
    return spoken_outcome(entry.guess, asked_m).along_m if entry.guess else entry.guess_along_m


def _changed_outcome(desk: Desk, putt_id: UUID, body: PuttChange, finish: dict[str, object]) -> Outcome:
    old = desk.putts.get(putt_id)
    if body.finish:
        return spoken_outcome(
            body.finish, body.asked_m if "asked_m" in body.model_fields_set else old.asked_m
        )
    along_m = body.finish_along_m if "finish_along_m" in finish else old.finish_along_m
    across_m = body.finish_across_m if "finish_across_m" in finish else old.finish_across_m
    return Outcome(along_m, across_m, body.holed if "holed" in finish else old.holed)
