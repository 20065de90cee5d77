"""Server time of each page and route on a large desk, beside a bare FastAPI endpoint, on both databases.

Run as a module: python -m benchmarks.web [players] [strokes a player] [sqlite|postgresql]. The goal is a p95
of at most `GOAL_MS` with 1,000 players and 1,000,000 strokes. Requests go straight into the application,
without a network, one after the other; its own checks and compression are in the time. Beside the time stands
the processor's share of it, here and in the database: on a busy machine that is what the page itself costs.
"""

from __future__ import annotations

import asyncio
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from fastapi import FastAPI
from sqlalchemy import text

from benchmarks.desk_data import fill
from pacewright.app.desk.desk import Desk
from pacewright.app.desk.practice import PlanRequest
from pacewright.web.run import settle
from pacewright.web.server import create_app
from tests.databases import KINDS, fresh_desk

GOAL_MS = 60.0
TIMES = 40
PAGES = (
    "/", "/today/part", "/players", "/players?search=7", "/players/new", "/players/{player}",
    "/players/{player}/pictures?names=shares,days", "/players/{player}/progress",
    "/players/{player}/pictures?names=change,beat", "/players/{player}/report",
    "/players/{player}/station?green={green}",
    "/players/{player}/station/part?length_m=3&beats=90&green={green}",
    "/sessions/{session}", "/sessions/{session}/part", "/sessions/{session}/putts",
    "/sessions/{session}/pictures", "/strokes/{stroke}", "/strokes/{stroke}/part",
    "/strokes/{stroke}?beside={other}", "/greens", "/greens/{green}", "/groups/new", "/groups/{group}",
    "/settings", "/login",
)  # fmt: skip
"""Every page and every part of one; files to hand over and fonts are none."""
NOT_TIMED = (
    "/events",
    "/content",
    "/export",
    "/report",
    "/openapi.json",
    "/file",
    "/strip",
    "/beats",
    "/backups",
)
"""Streams, files and documents: their time is that of what they hold."""


async def ask(app: Any, path: str) -> tuple[int, float, float]:
    """One GET, straight into the application: status, seconds, and seconds of the processor."""
    place, _, query = path.partition("?")
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET", "scheme": "http",
        "path": place, "raw_path": place.encode(), "query_string": query.encode(), "root_path": "",
        "headers": [(b"host", b"127.0.0.1:8780"), (b"accept", b"text/html"), (b"accept-encoding", b"gzip")],
        "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 8780), "state": {},
    }  # fmt: skip
    status = 0

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Any) -> None:
        nonlocal status
        status = message.get("status", status)

    start, used = time.perf_counter(), time.process_time()
    await app(scope, receive, send)
    return status, time.perf_counter() - start, time.process_time() - used


@dataclass(frozen=True, slots=True)
class Taken:
    """What a path took: the time of its first answer, p95 and least of the time, p95 of the processor's share
    of it, and the mean of what processes of the database used (PostgreSQL; SQLite works in this process)."""

    status: int
    first_s: float
    p95_s: float
    least_s: float
    own_s: float
    database_s: float


async def take(app: Any, path: str, database_s: Callable[[], float] = lambda: 0.0) -> Taken:
    """Ask a path once, then `TIMES` times."""
    status, first, _ = await ask(app, path)
    before = database_s()
    taken = np.array([(await ask(app, path))[1:] for _ in range(TIMES)])
    database = (database_s() - before) / TIMES
    wall, own = np.quantile(taken, 0.95, axis=0)
    return Taken(status, first, float(wall), float(taken[:, 0].min()), float(own), database)


def processor_of(desk: Desk) -> Callable[[], float]:
    """Seconds that PostgreSQL's processes for this desk have used so far; always 0 for SQLite."""
    database = desk._context.database
    if database.is_sqlite:
        return lambda: 0.0
    statement = text("SELECT pid FROM pg_stat_activity WHERE datname = current_database()")
    ticks = os.sysconf("SC_CLK_TCK")

    def used() -> float:
        with database.read() as transaction:
            pids = list(transaction.scalars(statement))
        fields = [Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split() for pid in pids]
        return sum(int(one[11]) + int(one[12]) for one in fields) / ticks

    return used


def bare() -> FastAPI:
    """The floor: an endpoint that does nothing."""
    app = FastAPI()

    @app.get("/")
    def nothing() -> dict[str, str]:
        return {"status": "ok"}

    return app


def paths(app: FastAPI, desk: Desk) -> Iterator[tuple[str, str]]:
    """Every page, and every route of the API that gets something small: its pattern, and an address of it."""
    player, partner = desk.players.list().items[:2]
    session = next(one for one in desk.sessions.list(player_id=player.id).items if one.strokes)
    stroke, other = desk.strokes.list(session_id=session.id).items[:2]
    recording = desk.recordings.of_session(session.id)[0]
    green = desk.greens.create("Practice", 3.0)
    plan = desk.plans.make(player.id, PlanRequest((3.0,), session.held_on, green_id=green.id))
    group = desk.sessions.create_group([player.id, partner.id])[0].group_id
    known = {
        "player": player.id, "session": session.id, "stroke": stroke.id, "recording": recording.id,
        "green": green.id, "plan": plan.id, "analysis": stroke.analysis_id, "other": other.id, "group": group,
        "putt": desk.putts.list(session_id=session.id).items[0].id,
    }  # fmt: skip
    yield from ((page, page.format(**known)) for page in PAGES)
    named = {f"{name}_id": value for name, value in known.items()}
    for path, methods in app.openapi()["paths"].items():
        wanted = {part[1:-1] for part in path.split("/") if part.startswith("{")}
        if "get" in methods and wanted <= set(named) and not path.endswith(NOT_TIMED):
            yield path, path.format(**named)


async def measure(desk: Desk) -> None:
    """Print the table of one desk."""
    app = create_app(desk)
    settle()
    floor, used = await take(bare(), "/"), processor_of(desk)
    print(f"  {'a bare endpoint':<68} {_told(floor)}")
    slow = busy = 0
    for pattern, path in paths(app, desk):
        taken = await take(app, path, used)
        shown = pattern.removeprefix("/api/v1") if pattern.startswith("/api") else f"{pattern} (page)"
        assert taken.status == (404 if pattern.endswith("/track") else 200), (path, taken.status)
        slow += 1000 * taken.p95_s > GOAL_MS
        busy += 1000 * (taken.own_s + taken.database_s) > GOAL_MS
        print(f"  {shown:<68} {_told(taken)} {taken.own_s / floor.own_s:4.0f} × bare", flush=True)
    print(f"  over {GOAL_MS:g} ms: {slow} in time, {busy} in processor time")


def _told(taken: Taken) -> str:
    told = {
        "first": taken.first_s, "p95": taken.p95_s, "least": taken.least_s, "own": taken.own_s,
        "database": taken.database_s,
    }  # fmt: skip
    return "  ".join(f"{name} {1000 * time_s:6.1f}" for name, time_s in told.items()) + " ms"


def main() -> None:
    """Fill a desk on each database and print."""
    players = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    each = int(sys.argv[2]) if len(sys.argv) > 2 else 1000
    for kind in sys.argv[3:] or KINDS:
        with tempfile.TemporaryDirectory() as folder, fresh_desk(kind, Path(folder)) as desk:
            count = fill(desk, players, each)
            print(f"{kind}: {players:,} players, {count:,} strokes")
            asyncio.run(measure(desk))


if __name__ == "__main__":
    main()
