"""The demo club is the same every time; the desk asks no more often for many players than for few."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import event

from benchmarks.desk_data import fill, readings
from pacewright.app.desk import demo_club, workers
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
    """Made by a job at a desk where it was broken off and cancelled before."""
    with fresh_desk("postgresql", tmp_path / "one") as desk:
        ordered = desk.jobs.order_demo_club()
        assert desk.jobs.order_demo_club().id == ordered.id  # once, however often it is asked for
        _broken_off(desk)
        assert desk.work_once() == ordered.id
        seen = _checked(desk)
        assert desk.settings.all()["club"] == demo_club.CLUB
        assert list(desk._context.files.incoming.iterdir()) == []
        recordings = [desk.recordings.of_session(session) for session in _recorded(desk)]
        assert len(recordings) == 6
        assert all(desk.recordings.path(one.id).is_file() for (one,) in recordings)
        for fill in (desk.jobs.order_demo_club, lambda: demo_club.seed_demo_club(desk)):
            with pytest.raises(ConflictError):
                fill()
        # Doing it again adds nothing.
        desk.jobs.retry(ordered.id)
        desk.work_once()
        again = desk.jobs.of_demo_club()
        assert again is not None
        assert (again.state, again.id != ordered.id) == ("done", True)
        assert len(desk.players.list().items) == 3
    with fresh_desk("sqlite", tmp_path / "two") as desk:
        green = desk.greens.create("Any", 3.05)
        first = demo_club._member(desk, 0, demo_club.MEMBERS[0], green, lambda _: None)
        assert [(putt.asked_m, putt.outcome) for putt in desk.putts.for_figures(first.id)] == seen


def _checked(desk: Desk) -> list[tuple[Any, ...]]:
    """Look at the whole club; returns the putts of its first member."""
    players = [desk.players.list(search=member.name).items[0] for member in demo_club.MEMBERS]
    assert all(player.is_invented for player in players)
    assert len(desk.players.list().items) == len(players)
    assert desk.jobs.open() == ()
    assert desk.story.today().troubled_jobs == ()
    assert len(desk.story.today().open_sessions) == 3
    assert len(desk.story.today().unread) == 1
    story = desk.story.of_player(players[0].id)
    assert story.strokes == 20
    assert story.budget.body is not None
    assert story.tempo.body is not None
    assert story.plan is not None
    return [(putt.asked_m, putt.outcome) for putt in desk.putts.for_figures(players[0].id)]


def _recorded(desk: Desk) -> list[UUID]:
    return [one.id for one in desk.sessions.list(limit=500).items if one.recordings]


def _broken_off(desk: Desk) -> None:
    """The worker is lost half-way, then the coach cancels; nothing is there either time."""
    context = desk._context
    for error in (KeyboardInterrupt, workers._GivenUpError):
        told: list[float] = []

        def lost(share: float, told: list[float] = told, error: type[BaseException] = error) -> None:
            told.append(share)
            if len(told) == 2:
                raise error

        with pytest.raises(error), demo_club.club_beside(context, lost):
            pass
        assert told[0] < told[1] < 1.0
        assert desk.players.list().items == ()
        assert list(context.files.incoming.iterdir()) == []


def test_a_club_that_was_ordered_can_be_cancelled_and_asked_for_again(desk: Desk) -> None:
    first = desk.jobs.order_demo_club()
    desk.jobs.cancel(first.id)
    assert desk.work_once() is None
    again = desk.jobs.order_demo_club()
    assert again.id != first.id
    assert [job.kind for job in desk.jobs.open()] == ["demo-club"]


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
