"""A large desk: a thousand players, a million strokes and their putts, by bulk insert; and its reading times.

`fill` is for whoever measures pages. Run as a module it fills a desk and prints how long the desk's readings
take in each database, as a multiple of a bare query: python -m benchmarks.desk_data [players] [strokes a
player] [sqlite|postgresql]
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from sqlalchemy import text

from benchmarks.desk_rows import fill
from pacewright.app.desk.desk import Desk
from tests.databases import KINDS, fresh_desk

__all__ = ["fill", "readings"]


def readings(desk: Desk) -> Iterator[tuple[str, Callable[[], object]]]:
    """What pages read, with players and sessions from the middle of the list."""
    player = desk.players.list(search="invented 0").items[-1].id
    session = desk.sessions.list(player_id=player, limit=1).items[0].id
    deep = desk.players.list(limit=50).next
    yield "today", desk.story.today
    yield "players, a page", lambda: desk.players.list(after=deep)
    yield "players, a search", lambda: desk.players.list(search="42")
    yield "sessions, a page", lambda: desk.sessions.list()
    yield "sessions of a player", lambda: desk.sessions.list(player_id=player)
    yield "story, figures kept", lambda: desk.story.of_player(player, wait=False)
    yield "session: recordings", lambda: desk.recordings.of_session(session)
    yield "session: strokes", lambda: desk.strokes.list(session_id=session)
    yield "session: putts", lambda: desk.putts.list(session_id=session)
    yield "session: findings", lambda: desk.strokes.findings(session_id=session)
    yield "strokes of a player", lambda: desk.strokes.list(player_id=player, newest_first=True)


def p95_s(read: Callable[[], object], times: int = 40) -> float:
    """The time that 95 of 100 readings stay under."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        read()
        taken.append(time.perf_counter() - start)
    return float(np.quantile(taken, 0.95))


def main() -> None:
    """Fill the databases and print."""
    players = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    each = int(sys.argv[2]) if len(sys.argv) > 2 else 1000
    for kind in sys.argv[3:] or KINDS:
        with tempfile.TemporaryDirectory() as folder, fresh_desk(kind, Path(folder)) as desk:
            start = time.perf_counter()
            count = fill(desk, players, each)
            print(f"{kind}: {count:,} strokes in {time.perf_counter() - start:.0f} s")

            def bare(desk: Desk = desk) -> None:
                with desk._context.read() as transaction:
                    transaction.execute(text("SELECT 1"))

            floor = p95_s(bare)
            for name, read in readings(desk):
                read()
                taken = p95_s(read)
                print(f"  {name:<24} p95 {1000 * taken:6.1f} ms   {taken / floor:5.0f} × a bare query")


if __name__ == "__main__":
    main()
