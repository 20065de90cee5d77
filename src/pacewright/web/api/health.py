"""Whether the server lives."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel

router = APIRouter(tags=["health"])


class Health(BaseModel):
    """The server lives."""

    status: Literal["ok"] = "ok"


@router.get("/health")
async def health() -> Health:
    """Whether the server lives."""
    return Health()
