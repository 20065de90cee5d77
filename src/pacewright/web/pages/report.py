"""The report: what it shows, a look at it, and the files to hand over."""

from __future__ import annotations

from typing import Annotated, Literal
from urllib.parse import urlencode
from uuid import UUID

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.reports import ReportRequest
from pacewright.core.errors import PacewrightError
from pacewright.core.units import parse_quantity
from pacewright.web.access import DeskDep
from pacewright.web.pages.players import attachment
from pacewright.web.pages.site import at_once, show, units_of

router = APIRouter()
SHOWN_INSIDE = {
    "content-security-policy": (
        "default-src 'none'; style-src 'unsafe-inline'; font-src data:; img-src data:; sandbox; "
        "frame-ancestors 'self'"
    ),
    "x-frame-options": "SAMEORIGIN",
}
"""A report carries its style in itself; it is shown in a frame that may run nothing and ask for nothing."""

Chosen = Annotated[list[UUID], Query(default_factory=list)]


@router.get("/players/{player_id}/report")
@at_once
def report(
    request: Request, desk: DeskDep, player_id: UUID, session: Chosen, title: str = "", lengths: str = ""
) -> HTMLResponse:
    """Choose sessions, look at the report, hand it over."""
    player = desk.players.get(player_id)
    sessions = [one for one in desk.sessions.list(player_id=player_id).items if one.strokes]
    chosen = session or [one.id for one in sessions[:1]]
    told = [("session", str(one)) for one in chosen] + [("title", title), ("lengths", lengths)]
    wrong = ""
    try:
        if chosen:
            desk.reports.check(_request(desk, chosen, title, lengths))
    except PacewrightError as error:
        wrong = str(error)
    return show(
        request, "report.html", tab="players", player=player, sessions=sessions, chosen=chosen, title=title,
        lengths=lengths, wrong=wrong,
        address=f"/players/{player_id}/report/file?{urlencode(told)}" if chosen else "",
    )  # fmt: skip


@router.get("/players/{player_id}/report/file")
def report_file(
    desk: DeskDep, player_id: UUID, session: Chosen, kind: Literal["pdf", "html", "look"],
    title: str = "", lengths: str = "",
) -> Response:  # fmt: skip
    """The report as PDF or page to hand over, or as a page to look at."""
    desk.players.get(player_id)
    data = desk.reports.report(_request(desk, session, title, lengths), "pdf" if kind == "pdf" else "html")
    if kind == "look":
        return Response(data, media_type="text/html", headers=SHOWN_INSIDE)
    media = "application/pdf" if kind == "pdf" else "text/html"
    return Response(data, media_type=media, headers=attachment(f"report.{kind}"))


def _request(desk: Desk, sessions: list[UUID], title: str, lengths: str) -> ReportRequest:
    units = units_of(desk)
    default = "m" if units == "metric" else "ft"
    wanted = [
        parse_quantity(part, "length", default_unit=default) for part in lengths.split(",") if part.strip()
    ]
    usual = ReportRequest(())
    return ReportRequest(
        tuple(sessions), title=title.strip()[:120] or usual.title, units=units, putt_lengths_m=tuple(wanted),
        paper=desk.settings.all()["paper"],
    )  # fmt: skip
