"""Greens: measured by rolls both ways, and kept."""

from __future__ import annotations

from uuid import UUID

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from pacewright.web.access import DeskDep
from pacewright.web.pages.site import at_once, show

router = APIRouter()


@router.get("/greens")
@at_once
def greens(request: Request, desk: DeskDep) -> HTMLResponse:
    """The greens that are kept, and a new one."""
    return show(request, "greens.html", tab="greens", found=desk.greens.list(limit=200))


@router.get("/greens/{green_id}")
@at_once
def green(request: Request, desk: DeskDep, green_id: UUID) -> HTMLResponse:
    """A green: measure it, and how it was before."""
    found = desk.greens.get(green_id)
    return show(request, "green.html", tab="greens", green=found, readings=desk.greens.readings(green_id))
