"""Processes that are killed at random points, and many that write at once. `validation.kill` does more of
it."""

from __future__ import annotations

import os
from collections import Counter
from pathlib import Path

import pytest
from sqlalchemy import text

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.sharing import PracticeDay
from tests.app.desk.people import some_putts, willing_player
from tests.databases import KINDS, fresh_url
from validation.kill import SCENARIOS, kill_many

SESSIONS = 200
WRITERS = 4


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("scenario", SCENARIOS)
def test_what_was_acknowledged_survives_a_kill(scenario: str, kind: str, tmp_path: Path) -> None:
    usual_s = SCENARIOS[scenario].usual_s
    tally = kill_many(scenario, kind, 2, tmp_path, seed=os.getpid(), whole_s=usual_s)
    assert tally.kills == 2
    assert tally.lost == []
    assert tally.halves == []


@pytest.mark.parametrize("kind", KINDS)
def test_sessions_written_by_several_processes_at_once_are_all_there_once(kind: str, tmp_path: Path) -> None:
    """Each session comes twice, from two processes: its practice is there, and once."""
    url = fresh_url(kind, tmp_path)
    with Desk.open(tmp_path, url) as desk:
        player = willing_player(desk)
        _, token = desk.sharing.create(player.id)
    children = []
    for writer in range(WRITERS):
        child = os.fork()
        if child == 0:
            status = 1
            try:
                _write(tmp_path, url, token, writer)
                status = 0
            finally:
                os._exit(status)
        children.append(child)
    assert [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children] == [0] * WRITERS
    with Desk.open(tmp_path, url) as desk:
        with desk._context.read() as transaction:
            days = Counter(transaction.execute(text("SELECT client_id FROM sessions")).scalars())
            putts = Counter(transaction.execute(text("SELECT client_id FROM putts")).scalars())
        version = desk._context.database
        assert version.is_sqlite == (kind == "sqlite")
    assert days == Counter(f"day-{k}" for k in range(SESSIONS))
    assert putts == Counter(f"d{k}-{j}" for k in range(SESSIONS) for j in range(10))


def _write(folder: Path, url: str | None, token: str, writer: int) -> None:
    import datetime as dt

    with Desk.open(folder, url) as desk:
        for k in range(SESSIONS):
            if k % WRITERS in (writer, (writer + 1) % WRITERS):
                putts = tuple(some_putts(10, prefix=f"d{k}-"))
                desk.sharing.sync(token, PracticeDay(f"day-{k}", dt.date(2026, 1, 1), putts))
