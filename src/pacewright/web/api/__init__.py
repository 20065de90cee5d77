"""The REST API under ``/api/v1``: one module for each thing a coach works with."""

from __future__ import annotations

from fastapi import APIRouter

from pacewright.web.api import health

router = APIRouter(prefix="/api/v1")
for _part in (health,):
    router.include_router(_part.router)
