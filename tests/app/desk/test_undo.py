"""Every deletion made by hand can be taken back, with all that it took along, and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.practice import StationRequest
from pacewright.app.desk.workers import work_once
from pacewright.core.errors import ConflictError, NotFoundError
from tests.app.desk.people import add_recording, some_putts, willing_player


def _everything(desk: Desk, player_id: Any) -> dict[str, Any]:
    """All that the desk shows of a player."""
    story = desk.story.of_player(player_id)
    return {
        "sessions": [(one.id, one.putts, one.strokes, one.recordings) for one in story.sessions],
        "putts": desk.putts.list(player_id=player_id).items,
        "strokes": desk.strokes.list(player_id=player_id).items,
        "findings": [one.id for one in story.findings],
        "putter": story.putter,
        "stations": desk.stations.of_player(player_id).items,
        "budget": story.budget,
    }


@pytest.fixture
def made(desk: Desk) -> dict[str, Any]:
    """A player with one of everything."""
    player = willing_player(desk)
    green = desk.greens.create("Practice", 3.0)
    putter = desk.putters.create(player.id, "Blade")
    session = desk.sessions.create(player.id, green_id=green.id, putter_id=putter.id)
    recording = add_recording(desk, session)
    work_once(desk._context)
    putts = desk.putts.add(session.id, some_putts(8))
    assert desk.putts.pair(session.id) == 8
    station = desk.stations.keep(player.id, StationRequest((3.0,), green.id))
    return {
        "player": player, "session": session, "recording": recording, "putt": putts[2], "putter": putter,
        "station": station, "green": green,
    }  # fmt: skip


@pytest.mark.parametrize("what", ["player", "session", "recording", "putt", "putter", "station", "green"])
def test_a_deletion_is_gone_and_comes_back_as_it_was(desk: Desk, made: dict[str, Any], what: str) -> None:
    families = {
        "player": desk.players, "session": desk.sessions, "recording": desk.recordings, "putt": desk.putts,
        "putter": desk.putters, "station": desk.stations, "green": desk.greens,
    }  # fmt: skip
    family: Any = families[what]
    before = _everything(desk, made["player"].id)
    step = family.delete(made[what].id)
    with pytest.raises(NotFoundError):
        family.get(made[what].id)
    if what == "player":
        assert desk.sessions.list().items == ()
        assert desk.players.list().items == ()
    elif what != "green":
        assert _everything(desk, made["player"].id) != before
    assert desk.undo.recent()[0].id == step.id
    back = desk.undo.take_back(step.id)
    assert back.rows == step.rows >= 1
    assert _everything(desk, made["player"].id) == before
    with pytest.raises(ConflictError):
        desk.undo.take_back(step.id)


def test_undo_brings_back_its_own_step_alone(desk: Desk, made: dict[str, Any]) -> None:
    first = desk.putts.delete(made["putt"].id)
    second = desk.sessions.delete(made["session"].id)
    with pytest.raises(ConflictError, match="session"):
        desk.undo.take_back(first.id)
    desk.undo.take_back(second.id)
    assert len(desk.putts.list(session_id=made["session"].id).items) == 7
    desk.undo.take_back(first.id)
    assert len(desk.putts.list(session_id=made["session"].id).items) == 8


def test_what_was_erased_cannot_be_brought_back(desk: Desk, made: dict[str, Any]) -> None:
    step = desk.players.delete(made["player"].id)
    desk.privacy.erase(made["player"].id)
    with pytest.raises(NotFoundError):
        desk.undo.take_back(step.id)


def test_the_journal_says_who_did_what_and_holds_no_name(desk: Desk, made: dict[str, Any]) -> None:
    step = desk.putts.delete(made["putt"].id)
    desk.undo.take_back(step.id)
    entries = desk.journal.list(player_id=made["player"].id).items
    assert [entry.action for entry in entries[:2]] == ["undo", "delete"]
    assert made["player"].name not in repr(desk.journal.list(limit=500).items)


def test_deleted_while_its_analysis_waits_fails_in_words(desk: Desk) -> None:
    session = desk.sessions.create(willing_player(desk).id)
    recording = add_recording(desk, session)
    step = desk.recordings.delete(recording.id)
    job_id = work_once(desk._context)
    assert job_id is not None
    assert desk.jobs.get(job_id).state == "failed"
    assert "deleted" in desk.jobs.get(job_id).error
    desk.undo.take_back(step.id)
    assert desk.recordings.get(recording.id).strokes == 0
    _: Callable[[], Any] = desk.jobs.open
    assert desk.jobs.open() == ()
