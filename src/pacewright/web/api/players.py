"""Players, who speaks for them, what they agreed to, their putters."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import Query, Response
from pydantic import Field

from pacewright.app.desk.views import (
    ConsentKind,
    ConsentView,
    GivenBy,
    GuardianView,
    Page,
    PlayerLine,
    PlayerView,
    PutterView,
    UndoView,
)
from pacewright.core.display import Units
from pacewright.web.api.common import After, Body, DeskDep, Limit, Search, Version, created, part, tagged

router = part("players")


class NewPlayer(Body):
    """A new player; without a birth year say ``is_minor`` for one under age."""

    name: Annotated[str, Field(max_length=120)]
    birth_year: int | None = None
    is_minor: bool | None = None
    left_handed: bool = False
    units: Units = "metric"
    language: Annotated[str, Field(max_length=12)] = "en"
    notes: str = ""


class PlayerChange(Body):
    """What changes of a player."""

    name: Annotated[str, Field(max_length=120)] = ""
    birth_year: int | None = None
    is_minor: bool | None = None
    left_handed: bool = False
    units: Units = "metric"
    language: Annotated[str, Field(max_length=12)] = "en"
    notes: str = ""


class NewGuardian(Body):
    """A parent or guardian."""

    name: Annotated[str, Field(max_length=120)]
    contact: Annotated[str, Field(max_length=200)] = ""
    relation: Annotated[str, Field(max_length=60)] = ""


class NewConsent(Body):
    """A consent: to what, by whom, and how it was given."""

    kind: ConsentKind
    given_by: GivenBy
    guardian_id: UUID | None = None
    how: Annotated[str, Field(max_length=500)] = ""


class NewPutter(Body):
    """A putter; its figures are usual ones where they are left out."""

    name: Annotated[str, Field(max_length=120)]
    head_mass_kg: float = 0.35
    restitution: float = 0.8
    notes: str = ""


class PutterChange(Body):
    """What changes of a putter."""

    name: Annotated[str, Field(max_length=120)] = ""
    head_mass_kg: float = 0.35
    restitution: float = 0.8
    notes: str = ""


@router.get("/players")
def list_players(
    desk: DeskDep, search: Search = "", after: After = None, limit: Limit = 50
) -> Page[PlayerLine]:
    """Players by name."""
    return desk.players.list(search=search, after=after, limit=limit)


@router.post("/players", status_code=201)
def create_player(desk: DeskDep, body: NewPlayer, response: Response) -> PlayerView:
    """A new player."""
    view = desk.players.create(**body.model_dump())
    created(response, "players", view)
    return view


@router.get("/players/{player_id}")
def get_player(desk: DeskDep, player_id: UUID, response: Response) -> PlayerView:
    """A player."""
    view = desk.players.get(player_id)
    tagged(response, view)
    return view


@router.patch("/players/{player_id}")
def change_player(
    desk: DeskDep, player_id: UUID, version: Version, body: PlayerChange, response: Response
) -> PlayerView:
    """Change what is sent; the rest stays."""
    view = desk.players.update(player_id, version, **body.given())
    tagged(response, view)
    return view


@router.delete("/players/{player_id}")
def delete_player(desk: DeskDep, player_id: UUID) -> UndoView:
    """Delete a player with all that belongs to it; `POST /undo/{id}` takes it back."""
    return desk.players.delete(player_id)


@router.get("/players/{player_id}/guardians")
def list_guardians(desk: DeskDep, player_id: UUID) -> list[GuardianView]:
    """Parents and guardians."""
    return list(desk.players.guardians(player_id))


@router.post("/players/{player_id}/guardians", status_code=201)
def create_guardian(desk: DeskDep, player_id: UUID, body: NewGuardian) -> GuardianView:
    """Note a parent or guardian."""
    return desk.players.add_guardian(player_id, **body.model_dump())


@router.get("/players/{player_id}/consents")
def list_consents(desk: DeskDep, player_id: UUID) -> list[ConsentView]:
    """Every consent, newest first, those withdrawn too."""
    return list(desk.consents.of_player(player_id))


@router.get("/players/{player_id}/consents/missing")
def missing_consents(
    desk: DeskDep, player_id: UUID, kind: Annotated[ConsentKind, Query()] = "recording"
) -> list[str]:
    """Whose consent is still wanted, in sentences; empty when nothing is."""
    return list(desk.consents.missing(player_id, kind))


@router.post("/players/{player_id}/consents", status_code=201)
def give_consent(desk: DeskDep, player_id: UUID, body: NewConsent) -> ConsentView:
    """Note a consent."""
    return desk.consents.give(player_id, body.kind, body.given_by, guardian_id=body.guardian_id, how=body.how)


@router.delete("/consents/{consent_id}")
def withdraw_consent(desk: DeskDep, consent_id: UUID) -> ConsentView:
    """End a consent as of now."""
    return desk.consents.withdraw(consent_id)


@router.get("/players/{player_id}/putters")
def list_putters(desk: DeskDep, player_id: UUID) -> list[PutterView]:
    """A player's putters."""
    return list(desk.putters.of_player(player_id))


@router.post("/players/{player_id}/putters", status_code=201)
def create_putter(desk: DeskDep, player_id: UUID, body: NewPutter, response: Response) -> PutterView:
    """A new putter."""
    view = desk.putters.create(player_id, **body.model_dump())
    created(response, "putters", view)
    return view


@router.get("/putters/{putter_id}")
def get_putter(desk: DeskDep, putter_id: UUID, response: Response) -> PutterView:
    """A putter."""
    view = desk.putters.get(putter_id)
    tagged(response, view)
    return view


@router.patch("/putters/{putter_id}")
def change_putter(
    desk: DeskDep, putter_id: UUID, version: Version, body: PutterChange, response: Response
) -> PutterView:
    """Change what is sent; the rest stays."""
    view = desk.putters.update(putter_id, version, **body.given())
    tagged(response, view)
    return view


@router.delete("/putters/{putter_id}")
def delete_putter(desk: DeskDep, putter_id: UUID) -> UndoView:
    """Delete a putter; sessions it was used in keep it."""
    return desk.putters.delete(putter_id)
