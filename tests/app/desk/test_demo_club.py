"""The demo club is the same every time; the desk asks no more often for many players than for few."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event

from benchmarks.desk_data import fill, readings
from pacewright.app.desk import demo_club
from pacewright.app.desk.desk import Desk
from pacewright.core.errors import ConflictError
from tests.databases import fresh_desk


@pytest.fixture
def small_club(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three members and four sessions each: the same code in a tenth of the time."""
    monkeypatch.setattr(demo_club, "MEMBERS", demo_club.MEMBERS[:3])
    monkeypatch.setattr(demo_club, "SESSIONS", 6)


@pytest.mark.usefixtures("small_club")
def test_the_demo_club_is_whole_invented_and_the_same_every_time(tmp_path: Path) -> None:
    seen = []
    for name in ("one", "two"):
        with fresh_desk("sqlite", tmp_path / name) as desk:
            players = demo_club.seed_demo_club(desk)
            assert all(player.is_invented for player in players)
            assert desk.jobs.open() == ()
            assert desk.story.today().troubled_jobs == ()
            assert len(desk.story.today().open_sessions) == 3
            assert len(desk.story.today().unread) == 1
            story = desk.story.of_player(players[0].id)
            assert story.strokes == 20
            assert story.budget.body is not None
            assert story.tempo.body is not None
            assert story.plan is not None
            seen.append([(p.asked_m, p.outcome) for p in desk.putts.for_figures(players[0].id)])
            with pytest.raises(ConflictError):
                demo_club.seed_demo_club(desk)
    assert seen[0] == seen[1]


def test_the_club_has_a_year_of_sessions_of_twelve_or_more() -> None:
    assert len({member.name for member in demo_club.MEMBERS}) >= 12
    assert demo_club.DAYS_BETWEEN * (demo_club.SESSIONS - 1) >= 330
    assert dt.date(2026, 1, 1) < demo_club.LAST_DAY


@contextmanager
def _counted(desk: Desk) -> Iterator[list[str]]:
    statements: list[str] = []

    def note(_c: Any, _cu: Any, statement: str, *_: Any) -> None:
        # SQLite is told to begin by a statement, PostgreSQL is not.
        if not statement.startswith("BEGIN"):
            statements.append(statement)

    engine = desk._context.database.engine
    event.listen(engine, "before_cursor_execute", note)
    yield statements
    event.remove(engine, "before_cursor_execute", note)


def _queries(desk: Desk) -> dict[str, int]:
    counts = {}
    read: Callable[[], object]
    for name, read in readings(desk):
        read()
        with _counted(desk) as statements:
            read()
        counts[name] = len(statements)
    return counts


def test_the_number_of_queries_does_not_grow_with_the_club(desk: Desk, tmp_path: Path) -> None:
    fill(desk, players=2, strokes_each=40)
    with fresh_desk("sqlite", tmp_path / "larger") as larger:
        fill(larger, players=60, strokes_each=200)
        many = _queries(larger)
    few = _queries(desk)
    assert {name: count for name, count in many.items() if count > few[name]} == {}
    assert max(many.values()) <= 24, many
