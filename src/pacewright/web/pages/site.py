"""What every page shares: texts, figures and look of whoever asks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from fastapi import Request
from fastapi.responses import HTMLResponse

from pacewright.app.desk.desk import Desk
from pacewright.core.display import Units, check_units
from pacewright.web.access import visitor_desk
from pacewright.web.pages.figures import Figures
from pacewright.web.pages.words import Words, choose_language
from pacewright.web.templating import render

LOOKS = ("auto", "paper", "night", "sun")
LOOK_COOKIE = "look"
P = ParamSpec("P")
R = TypeVar("R")


def at_once(page: Callable[P, R]) -> Callable[P, R]:
    """A page that reads all it shows in one transaction of the desk (its parameter ``desk``)."""

    @wraps(page)
    def read_at_once(*args: P.args, **kwargs: P.kwargs) -> R:
        desk = kwargs["desk"]
        assert isinstance(desk, Desk)
        with desk.at_once():
            return page(*args, **kwargs)

    return read_at_once


def show(request: Request, template: str, tab: str = "", **values: Any) -> HTMLResponse:
    """A page, or a part of one, in the language, units and look of whoever asks."""
    settings = _settings(request)
    words = Words(choose_language(settings["language"], request.headers.get("accept-language", "")))
    units = check_units(settings["units"])
    look = request.cookies.get(LOOK_COOKIE, "auto")
    return render(
        request, template, t=words, lang=words.language, units=units, fig=Figures(units),
        club=settings["club"], look=look if look in LOOKS else "auto", tab=tab, now=dt.date.today(), **values,
    )  # fmt: skip


def units_of(desk: Desk) -> Units:
    """The units that the desk is set to."""
    return check_units(desk.settings.all()["units"])


def is_coach(desk: Desk) -> bool:
    """Whether whoever asks may do everything."""
    return desk.actor.role == "coach"


def _settings(request: Request) -> dict[str, Any]:
    """The settings of the desk; the log-in is shown to nobody in particular and asks the desk itself."""
    desk = visitor_desk(request) if hasattr(request.state, "desk") else request.app.state.desk
    found: dict[str, Any] = desk.settings.all()
    return found
