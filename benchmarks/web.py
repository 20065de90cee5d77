"""Server time of each page and route on a large desk, beside a bare FastAPI endpoint, on both databases.

Run as a module: python -m benchmarks.web [players] [strokes a player] [sqlite|postgresql]. The goal is a p95
of at most `GOAL_MS` with 1,000 players and 1,000,000 strokes. Requests go straight into the application,
without a network, one after the other; its own checks and compression are in the time. Beside the time stands
the processor's share of it: on a busy machine that is what the page itself costs.
"""

from __future__ import annotations

import asyncio
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from fastapi import FastAPI

from benchmarks.desk_data import fill
from pacewright.app.desk.desk import Desk
from pacewright.app.desk.practice import PlanRequest
from pacewright.web.server import create_app
from tests.databases import KINDS, fresh_desk

GOAL_MS = 60.0
TIMES = 40
PAGES = (
    "/", "/today/part", "/players", "/players?search=7", "/players/new", "/players/{player}",
    "/players/{player}/progress", "/players/{player}/station?green={green}",
    "/sessions/{session}", "/sessions/{session}/part", "/strokes/{stroke}",
    "/greens", "/greens/{green}", "/groups/new", "/settings",
)  # fmt: skip
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


async def p95_s(app: Any, path: str) -> tuple[int, float, float, float]:
    """Status of a path, p95 of its time and of the processor's, and the time of the first answer."""
    status, first, _ = await ask(app, path)
    taken = [(await ask(app, path))[1:] for _ in range(TIMES)]
    wall, own = np.quantile(taken, 0.95, axis=0)
    return status, float(wall), float(own), first


def bare() -> FastAPI:
    """The floor: an endpoint that does nothing."""
    app = FastAPI()

    @app.get("/")
    def nothing() -> dict[str, str]:
        return {"status": "ok"}

    return app


def paths(app: FastAPI, desk: Desk) -> Iterator[str]:
    """Every page, and every route of the API that gets something small."""
    player = desk.players.list().items[7]
    session = desk.sessions.list(player_id=player.id).items[0]
    stroke = desk.strokes.list(session_id=session.id).items[0]
    recording = desk.recordings.of_session(session.id)[0]
    green = desk.greens.create("Practice", 3.0)
    plan = desk.plans.make(player.id, PlanRequest((3.0,), session.held_on, green_id=green.id))
    known = {
        "player": player.id, "session": session.id, "stroke": stroke.id, "recording": recording.id,
        "green": green.id, "plan": plan.id, "analysis": stroke.analysis_id,
        "putt": desk.putts.list(session_id=session.id).items[0].id,
    }  # fmt: skip
    yield from (page.format(**known) for page in PAGES)
    named = {f"{name}_id": value for name, value in known.items()}
    for path, methods in app.openapi()["paths"].items():
        wanted = {part[1:-1] for part in path.split("/") if part.startswith("{")}
        if "get" in methods and wanted <= set(named) and not path.endswith(NOT_TIMED):
            yield path.format(**named)


async def measure(desk: Desk) -> None:
    """Print the table of one desk."""
    app = create_app(desk)
    _, floor, own_floor, _ = await p95_s(bare(), "/")
    print(f"  {'a bare endpoint':<58} p95 {1000 * floor:6.1f} ms, own {1000 * own_floor:5.1f}")
    slow = 0
    for path in paths(app, desk):
        status, taken, own, first = await p95_s(app, path)
        shown = "/".join("…" if len(part) == 36 else part for part in path.split("?")[0].split("/"))
        mark = "" if 1000 * taken <= GOAL_MS else "  over the goal"
        slow += bool(mark)
        print(
            f"  {shown:<48} {status}  first {1000 * first:7.1f}  p95 {1000 * taken:6.1f} ms, "
            f"own {1000 * own:5.1f} {own / own_floor:4.0f} × bare{mark}",
            flush=True,
        )
    print(f"  {slow} over {GOAL_MS:g} ms")


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
