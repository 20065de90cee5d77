"""How often a page or a route asks the database: bounded, and no more often where more is stored."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fastapi import FastAPI
from sqlalchemy import event

from benchmarks.desk_data import fill
from benchmarks.web import PAGES, ask, paths
from pacewright.app.desk.desk import Desk
from pacewright.web import pages
from pacewright.web.server import create_app
from tests.databases import fresh_desk

MOST_OF_A_ROUTE = 8
MOST_OF_A_PAGE = 14
MORE = {
    "/": 18, "/today/part": 16, "/players/{player}": 24, "/sessions/{session}": 24,
    "/sessions/{session}/part": 18, "/strokes/{stroke}": 18, "/strokes/{stroke}?beside={other}": 24,
    "/api/v1/today": 14, "/api/v1/players/{player_id}/story": 16,
}  # fmt: skip
"""Pages that show many things at once."""
FILES = {"/fonts/{name}", "/players/{player_id}/station/strip.pdf", "/players/{player_id}/station/beats.wav",
         "/players/{player_id}/report/file", "/first-run/part"}  # fmt: skip
"""Files to hand over; and the offer that only a desk without players makes."""


@contextmanager
def counted(desk: Desk) -> Iterator[list[str]]:
    """The statements that are run meanwhile, but for the bounds of transactions."""
    run: list[str] = []

    def note(_c: object, _u: object, statement: str, *_: object) -> None:
        if not statement.startswith(("BEGIN", "COMMIT", "ROLLBACK", "PRAGMA", "SAVEPOINT")):
            run.append(statement)

    engine = desk._context.database.engine
    event.listen(engine, "before_cursor_execute", note)
    try:
        yield run
    finally:
        event.remove(engine, "before_cursor_execute", note)


def _counts(desk: Desk) -> dict[str, list[str]]:
    """The statements of every page and of every route that gets something, once what they keep is kept."""
    app = create_app(desk)
    found = {}
    for pattern, path in paths(app, desk):
        asyncio.run(ask(app, path))
        with counted(desk) as run:
            status, *_ = asyncio.run(ask(app, path))
        assert status == (404 if pattern.endswith("/track") else 200), path
        found[pattern] = run
    return found


def test_no_page_and_no_route_asks_more_often_where_more_is_stored(desk: Desk, tmp_path: Path) -> None:
    fill(desk, players=2, strokes_each=40)
    desk.settings.set("show_other_players", True)
    few = _counts(desk)
    with fresh_desk("sqlite", tmp_path / "larger") as larger:
        fill(larger, players=30, strokes_each=240)
        larger.settings.set("show_other_players", True)
        many = _counts(larger)
    assert {one: (len(few[one]), len(run)) for one, run in many.items() if len(run) > len(few[one])} == {}
    too_many = {}
    for pattern, run in many.items():
        most = MORE.get(pattern, MOST_OF_A_ROUTE if pattern.startswith("/api") else MOST_OF_A_PAGE)
        if len(run) > most:
            too_many[pattern] = [len(run), *(one[-120:] for one in run)]
    assert too_many == {}


def test_every_page_is_among_those_that_are_counted_and_timed() -> None:
    app = FastAPI()
    app.include_router(pages.router)

    def plain(path: str) -> str:
        return re.sub(r"\{[^}]*\}", "{}", path.partition("?")[0])

    there = {route.path for route in _routes(app)} - FILES
    assert {plain(path) for path in there} <= {plain(path) for path in PAGES}


def _routes(app: FastAPI) -> list[object]:
    return [route for route in app.routes if getattr(route, "methods", None) == {"GET"}]
