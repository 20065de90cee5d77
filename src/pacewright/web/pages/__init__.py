"""The pages of the desk, a module for each thing that a coach is doing."""

from __future__ import annotations

from fastapi import APIRouter

from pacewright.web.pages import (
    entrance,
    greens,
    groups,
    players,
    progress,
    report,
    review,
    sessions,
    station,
)
from pacewright.web.pages import settings as settings_pages
from pacewright.web.pages import today as today_pages

router = APIRouter(include_in_schema=False)
for _part in (
    entrance, today_pages, players, sessions, review, greens, station, progress, report, groups,
    settings_pages,
):  # fmt: skip
    router.include_router(_part.router)
