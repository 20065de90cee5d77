"""The log-in, and the fonts that every page shows."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response
from fastapi.responses import FileResponse, HTMLResponse

from pacewright.app.desk.pictures import font_file
from pacewright.web.pages.site import show

router = APIRouter()
FOR_EVER = "public, max-age=31536000, immutable"


@router.get("/login")
def log_in(request: Request, next: str = "/") -> HTMLResponse:
    """The log-in; ``next`` is where to go then, on this server alone."""
    is_here = next.startswith("/") and not next.startswith(("//", "/\\"))
    return show(request, "log_in.html", then=next if is_here else "/")


@router.get("/fonts/{name}")
def font(name: str) -> Response:
    """A font, kept by the browser for ever."""
    return FileResponse(font_file(name), media_type="font/woff2", headers={"cache-control": FOR_EVER})
