"""The REST API under ``/api/v1``: one module for each thing a coach works with."""

from __future__ import annotations

from fastapi import APIRouter

from pacewright.web.api import (
    accounts,
    greens,
    health,
    house,
    players,
    practice,
    putts,
    recordings,
    sessions,
    sharing,
    story,
    strokes,
)

router = APIRouter(prefix="/api/v1")
# The desk's own come first: `/players/import` is no player.
for _part in (
    health, accounts, house, players, greens, sessions, recordings, strokes, putts, practice, story, sharing,
):  # fmt: skip
    router.include_router(_part.router)
