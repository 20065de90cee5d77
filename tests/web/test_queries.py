"""How often a page or a route asks the database: bounded, however much is stored."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from sqlalchemy import event

from pacewright.app.desk.desk import Desk
from tests.app.desk.people import add_recording, some_putts, willing_player
from tests.web.clients import Caller

MOST = {
    "/api/v1/players?limit=50": 2,
    "/api/v1/players/{player}": 2,
    "/api/v1/players/{player}/story": 20,
    "/api/v1/players/{player}/sessions": 6,
    "/api/v1/players/{player}/strokes": 2,
    "/api/v1/players/{player}/putts": 2,
    "/api/v1/players/{player}/consents": 2,
    "/api/v1/sessions": 6,
    "/api/v1/sessions/{session}": 6,
    "/api/v1/sessions/{session}/recordings": 5,
    "/api/v1/sessions/{session}/strokes": 2,
    "/api/v1/sessions/{session}/putts": 2,
    "/api/v1/sessions/{session}/findings": 2,
    "/api/v1/today": 24,
    "/api/v1/greens": 1,
    "/": 30,
    "/players": 6,
    "/players/{player}": 34,
    "/sessions/{session}": 34,
}  # fmt: skip


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


def _filled(desk: Desk, sessions: int) -> tuple[str, str]:
    """Players, one of whom has that many sessions with putts and recordings."""
    for k in range(sessions):
        desk.players.create(f"Other {k}")
    player = willing_player(desk)
    for k in range(sessions):
        session = desk.sessions.create(player.id, held_on=dt.date(2026, 1, 1) + dt.timedelta(days=k))
        desk.putts.add(session.id, some_putts(8, prefix=f"s{k}-"))
    for seed in range(sessions):
        add_recording(desk, session, seed=seed + 1)
        desk.work_once()
    return str(player.id), str(session.id)


@pytest.mark.parametrize("sessions", [1, 4])
def test_no_route_asks_more_often_when_there_is_more(desk: Desk, home: Caller, sessions: int) -> None:
    player, session = _filled(desk, sessions)
    too_many = {}
    for route, most in MOST.items():
        path = route.format(player=player, session=session)
        home.client.get(path)  # figures that are kept are worked out the first time
        with counted(desk) as run:
            answer = home.client.get(path, headers={"accept": "text/html"})
        assert answer.status_code == 200, f"{path}: {answer.text[:200]}"
        if len(run) > most:
            too_many[route] = len(run)
    assert too_many == {}
