"""Rows of a large desk: sessions that the desk itself recorded and analysed, copied over and over.

A small desk gets some sessions by the ordinary way: recordings analysed, putts noted, journal written. Its
rows, as SQLite keeps them, are copied under fresh identifiers; PostgreSQL's COPY reads the same text.
"""

from __future__ import annotations

import datetime as dt
import json
import sqlite3
import tempfile
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import psycopg
from sqlalchemy import Date, Uuid

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.practice import PlanRequest
from pacewright.app.desk.putts import NewPutt
from pacewright.core.outcome import Outcome
from pacewright.records.ids import new_id
from pacewright.records.schema import OF_A_PLAYER
from pacewright.records.schema.base import UtcTime
from tests.app.desk.people import add_recording, willing_player
from tests.databases import fresh_desk

PATTERNS = 5
RECORDINGS_A_SESSION = 2
STROKES_A_SESSION = 20
"""A recording of `add_recording` holds ten strokes."""
IN_FULL = 3
"""Sessions of each player, counted from the newest, that come with curves and whole results of analyses: with
those of every session the databases would be ten times as large, and only ever be asked for one by one."""
LAST_DAY = dt.date(2026, 10, 31)
TABLES = [table.__table__ for table in OF_A_PLAYER]
COLUMNS = {table.name: [column.name for column in table.columns] for table in TABLES}


@dataclass(frozen=True, slots=True)
class Pattern:
    """Rows that go together, by table. ``ids`` are those that each copy has of its own."""

    rows: dict[str, list[list[Any]]]
    spots: dict[str, list[list[tuple[int, str]]]]
    ids: tuple[str, ...]


def fill(desk: Desk, players: int = 1000, strokes_each: int = 1000) -> int:
    """Fill an empty desk with invented players; returns how many strokes. Each has its putt.

    Sessions come week by week, so that the rows of a player lie as far apart as in a desk that has grown.
    """
    person, sessions = _patterns()
    weeks = max(strokes_each // STROKES_A_SESSION, 1)
    database = desk._context.database
    database.engine.dispose()
    write = _into_sqlite if database.is_sqlite else _into_postgres
    batches = _batches(person, sessions, players, weeks)
    write(str(database.file or database.url), batches)
    return players * weeks * STROKES_A_SESSION


def _batches(
    person: Pattern, sessions: Sequence[Pattern], players: int, weeks: int
) -> Iterator[dict[str, list[list[Any]]]]:
    """Rows by table, in batches: first all players, then week after week a session of each."""
    first = LAST_DAY - dt.timedelta(days=7 * weeks)
    own = []
    batch: dict[str, list[list[Any]]] = {}
    for number in range(players):
        name = f"Invented {number:04d}"
        told = {"name": name, "sort_name": name.casefold()}
        own.append(_copy(person, {}, batch, first, told, only="players"))
    yield batch
    for week in range(weeks):
        day = LAST_DAY - dt.timedelta(days=7 * (weeks - week - 1))
        is_newest, is_full = week == weeks - 1, week >= weeks - IN_FULL
        batch = {}
        for number in range(players):
            pattern = sessions[(number + week) % len(sessions)]
            told = {"held_on": day.isoformat()} | ({"ended_at": None} if is_newest else {})
            _copy(pattern, own[number], batch, day, told, only="sessions", in_full=is_full)
        yield batch


def _copy(
    pattern: Pattern,
    known: dict[str, str],
    into: dict[str, list[list[Any]]],
    day: dt.date,
    told: dict[str, Any],
    *,
    only: str,
    in_full: bool = True,
) -> dict[str, str]:
    """Add one copy to a batch; ``told`` are columns of table ``only``. Returns new identifiers by old."""
    ids = known | {old: new_id().hex for old in pattern.ids}
    date = day.isoformat()
    for table, rows in pattern.rows.items():
        if table == "curves" and not in_full:
            continue
        columns = COLUMNS[table]
        places = _PLACES[table]
        short = None if in_full or table != "analyses" else columns.index("result")
        for row, spots in zip(rows, pattern.spots[table], strict=True):
            new = row.copy()
            for place, old in spots:
                new[place] = ids.get(old, old)
            for place in places:
                if new[place] is not None:
                    new[place] = date + new[place][10:]
            if short is not None:
                new[short] = _without_strokes(new[short])
            if table == only:
                for name, value in told.items():
                    new[columns.index(name)] = value
            into.setdefault(table, []).append(new)
    return ids


@cache
def _without_strokes(result: str) -> str:
    return json.dumps(json.loads(result) | {"strokes": []})


_PLACES = {
    table.name: [k for k, column in enumerate(table.columns) if isinstance(column.type, Date | UtcTime)]
    for table in TABLES
}
"""Columns that hold a day or begin with one."""


@cache
def _patterns() -> tuple[Pattern, tuple[Pattern, ...]]:
    """What a player has of its own, and some sessions, as the desk keeps them."""
    with tempfile.TemporaryDirectory() as folder, fresh_desk("sqlite", Path(folder)) as desk:
        player = willing_player(desk)
        desk.consents.give(player.id, "sharing", "player")
        putter = desk.putters.create(player.id, "Blade")
        green = desk.greens.create("Practice", 3.0)
        desk.plans.make(player.id, PlanRequest((3.0,), LAST_DAY, green_id=green.id))
        begun = [_session(desk, player.id, putter.id, seed).hex for seed in range(PATTERNS)]
        desk._context.database.engine.dispose()
        with closing(sqlite3.connect(str(desk._context.database.file))) as raw:
            parts = _sorted_by_session(raw, begun)
    person, *sessions = parts
    return person, tuple(sessions)


def _session(desk: Desk, player_id: Any, putter_id: Any, seed: int) -> Any:
    """A session with two recordings and a putt for each stroke. The green is that of the day: a copy needs no
    other desk's green."""
    session = desk.sessions.create(player_id, putter_id=putter_id)
    for k in range(RECORDINGS_A_SESSION):
        add_recording(desk, session, seed=10 * seed + k, name=f"putts-{k + 1}.csv")
        desk.work_once()
    strokes = desk.strokes.list(session_id=session.id).items
    morning = dt.datetime(2026, 1, 1, 9, tzinfo=dt.UTC)
    desk.putts.add(
        session.id,
        [
            NewPutt(
                3.0, Outcome(3.0 + 0.25 * ((7 * k + seed) % 11 - 5) / 5.0), block="mixed", stroke_id=one.id,
                played_at=morning + dt.timedelta(seconds=40 * k),
            )
            for k, one in enumerate(strokes)
        ],
    )  # fmt: skip
    desk.sessions.end(session.id)
    return session.id


def _sorted_by_session(raw: sqlite3.Connection, begun: Sequence[str]) -> list[Pattern]:
    """The rows of a desk, split where its sessions began: identifiers rise with time."""
    rows: list[dict[str, list[list[Any]]]] = [{} for _ in range(len(begun) + 1)]
    for table in TABLES:
        names = COLUMNS[table.name]
        key = (
            names.index("id" if "id" in names else "stroke_id")
            if "id" in names or "stroke_id" in names
            else 0
        )
        for row in raw.execute(f"SELECT {', '.join(names)} FROM {table.name} ORDER BY {names[key]}"):
            rows[bisect_right(begun, row[key])].setdefault(table.name, []).append(list(row))
    return [_pattern(some) for some in rows]


def _pattern(rows: dict[str, list[list[Any]]]) -> Pattern:
    uuids = {
        table.name: [k for k, column in enumerate(table.columns) if isinstance(column.type, Uuid)]
        for table in TABLES
    }
    ids = [
        row[COLUMNS[table].index("id")]
        for table, some in rows.items()
        if "id" in COLUMNS[table]
        for row in some
    ]
    spots = {
        table: [[(k, row[k]) for k in uuids[table] if row[k] is not None] for row in some]
        for table, some in rows.items()
    }
    return Pattern(rows, spots, tuple(ids))


def _into_sqlite(path: str, batches: Iterator[dict[str, list[list[Any]]]]) -> None:
    """Without figures for the planner of queries afterwards: no desk gathers any in SQLite."""
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        raw.execute("PRAGMA synchronous = OFF")
        raw.execute("PRAGMA foreign_keys = OFF")
        raw.execute("PRAGMA cache_size = -500000")
        for batch in batches:
            raw.execute("BEGIN IMMEDIATE")
            for table, rows in batch.items():
                names, marks = ", ".join(COLUMNS[table]), ", ".join("?" * len(COLUMNS[table]))
                raw.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", rows)
            raw.execute("COMMIT")


def _into_postgres(url: str, batches: Iterator[dict[str, list[list[Any]]]]) -> None:
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute("SET TIME ZONE 'UTC'")
        # Rows are copies of rows that were checked: the foreign keys hold.
        connection.execute("SET session_replication_role = replica")
        connection.execute("SET synchronous_commit = off")
        for batch in batches:
            for table, rows in batch.items():
                names = ", ".join(COLUMNS[table])
                with connection.cursor() as cursor, cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                    for row in rows:
                        copy.write_row(row)
        # What the server does by itself within some minutes.
        connection.execute("VACUUM ANALYZE")
