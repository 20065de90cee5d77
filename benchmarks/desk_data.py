"""A large desk: a thousand players, a million strokes and their putts, by bulk insert; and its reading times.

`fill` is for whoever measures pages. Run as a module it fills a desk and prints how long the desk's readings
take in each database, as a multiple of a bare query: python -m benchmarks.desk_data [players] [strokes a
player]
"""

from __future__ import annotations

import datetime as dt
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from uuid import UUID

import numpy as np
from sqlalchemy import insert, text

from pacewright.app.desk.analysis import COLUMNS
from pacewright.app.desk.convert import measures_body
from pacewright.app.desk.desk import Desk
from pacewright.records.ids import new_id
from pacewright.records.schema import Analysis, Consent, Player, Putt, Putter, Recording, Row, Session, Stroke
from pacewright.simulate.habits import Habits, strokes_of
from tests.databases import KINDS, fresh_desk

STROKES_A_SESSION = 20
LAST_DAY = dt.date(2026, 10, 31)
MORNING = dt.datetime(2025, 1, 1, 9, tzinfo=dt.UTC)


def fill(desk: Desk, players: int = 1000, strokes_each: int = 1000) -> int:
    """Fill an empty desk with invented players; returns how many strokes. Each has its putt.

    The figures of strokes are drawn once, 400 of them, and used over and over: what counts here are rows.
    """
    rng = np.random.default_rng(1)
    drawn = [_figures(stroke) for stroke in strokes_of(Habits(), rng, [3.0] * 400)]
    count = 0
    with desk._context.database.write() as transaction:
        connection = transaction.connection()
        for number in range(players):
            rows = _of_player(number, strokes_each, drawn, rng)
            for table, some in rows.items():
                connection.execute(insert(table), some)
            count += len(rows[Stroke])
    with desk._context.database.engine.execution_options(isolation_level="AUTOCOMMIT").connect() as raw:
        raw.execute(text("ANALYZE"))
    return count


def _of_player(
    number: int, strokes: int, drawn: list[dict[str, Any]], rng: np.random.Generator
) -> dict[type[Row], list[dict[str, Any]]]:
    player_id, putter_id = new_id(), new_id()
    common = {"created_at": MORNING}
    rows: dict[type[Row], list[dict[str, Any]]] = {
        Player: [
            {"id": player_id, "name": f"Invented {number:04d}", "sort_name": f"invented {number:04d}",
             **common}
        ],
        Consent: [
            {"id": new_id(), "player_id": player_id, "kind": "recording", "given_by": "player",
             "given_at": MORNING, **common}
        ],
        Putter: [
            {"id": putter_id, "player_id": player_id, "name": "Blade", "head_mass_kg": 0.35,
             "restitution": 0.8, **common}
        ],
        Session: [], Recording: [], Analysis: [], Stroke: [], Putt: [],
    }  # fmt: skip
    sessions = max(strokes // STROKES_A_SESSION, 1)
    for k in range(sessions):
        owner = {"player_id": player_id, "session_id": new_id()}
        day = LAST_DAY - dt.timedelta(days=7 * (sessions - k))
        recording_id, analysis_id = new_id(), new_id()
        ended = MORNING if k < sessions - 1 else None
        rows[Session].append(
            {"id": owner["session_id"], "player_id": player_id, "putter_id": putter_id, "held_on": day,
             "ended_at": ended, "green_speed_m": 3.0, **common}
        )  # fmt: skip
        rows[Recording].append(
            {"id": recording_id, **owner, "sha256": f"{number * 100_000 + k:064x}", "size": 1,
             "kind": "table", "name": "putts.csv", **common}
        )  # fmt: skip
        rows[Analysis].append(
            {"id": analysis_id, **owner, "recording_id": recording_id, "method": "assess",
             "pacewright_version": "0", "result": {"strokes": []}, **common}
        )  # fmt: skip
        for j in range(STROKES_A_SESSION):
            figures = drawn[int(rng.integers(len(drawn)))]
            stroke_id = new_id()
            rows[Stroke].append(
                {"id": stroke_id, **owner, "recording_id": recording_id, "analysis_id": analysis_id,
                 "number": j, "kind": "putt", "asked_m": 3.0, "impact_time_s": 10.0 * j, **figures, **common}
            )  # fmt: skip
            rows[Putt].append(_putt(owner, stroke_id, day, j, float(rng.normal(0.0, 0.08))) | common)
    return rows


def _putt(owner: dict[str, UUID], stroke_id: UUID, day: dt.date, number: int, error: float) -> dict[str, Any]:
    begun = dt.datetime.combine(day, dt.time(9), dt.UTC)
    return {
        "id": new_id(), **owner, "stroke_id": stroke_id,
        "played_at": begun + dt.timedelta(seconds=40 * number), "asked_m": 3.0,
        "finish_along_m": 3.0 * (1.0 + error), "block": "mixed",
    }  # fmt: skip


def _figures(stroke: Any) -> dict[str, Any]:
    columns = {name: stroke.value(name) for name in COLUMNS}
    known = {name: None if value != value else value for name, value in columns.items()}
    return {**known, "events": {}, "measures": measures_body(stroke.measures)}


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
    """Fill both databases and print."""
    players = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    each = int(sys.argv[2]) if len(sys.argv) > 2 else 1000
    for kind in KINDS:
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
