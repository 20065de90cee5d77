"""Charts of a page are drawn once, and anew when what they show has changed."""

from __future__ import annotations

import datetime as dt

import pytest
from sqlalchemy import select

from pacewright.app.desk import pictures
from pacewright.app.desk.desk import Desk
from pacewright.app.desk.pictures import session_pictures, story_pictures
from pacewright.core.errors import QualityError
from pacewright.records.schema import Digest
from tests.app.desk.people import add_recording, some_putts, willing_player


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The charts that were drawn, without drawing them."""
    names: list[str] = []

    def draw(name: str, _: object) -> dict[str, str]:
        names.append(name)
        told = {"title": "", "caption": "", "alternative": "", "wide": "<svg>", "narrow": "<svg>"}
        return {"name": name} | told

    monkeypatch.setattr(pictures, "_picture", draw)
    return names


def test_the_charts_of_a_session_are_drawn_once_until_its_strokes_change(
    desk: Desk, drawn: list[str]
) -> None:
    player = willing_player(desk)
    session = desk.sessions.create(player.id)
    with pytest.raises(QualityError):
        session_pictures(desk, session.id, "metric")
    add_recording(desk, session)
    desk.work_once()
    shown = session_pictures(desk, session.id, "metric")
    assert drawn == list(shown) == ["repeats", "timing"]
    assert session_pictures(desk, session.id, "metric") == shown
    assert len(drawn) == 2
    session_pictures(desk, session.id, "imperial")
    assert len(drawn) == 4
    add_recording(desk, session, seed=2)
    desk.work_once()
    session_pictures(desk, session.id, "metric")
    assert len(drawn) == 6
    with desk._context.read() as transaction:
        kinds = set(transaction.scalars(select(Digest.kind).where(Digest.player_id == player.id)))
    # What was drawn of the strokes before is not kept.
    assert kinds == {f"pictures metric {session.id}"}


def test_the_charts_of_a_story_are_drawn_once_until_its_putts_change(desk: Desk, drawn: list[str]) -> None:
    player = willing_player(desk)
    for month in (1, 2, 3):
        session = desk.sessions.create(player.id, held_on=dt.date(2026, month, 1))
        desk.putts.add(session.id, some_putts(12, prefix=f"{month}-"))
    for _ in range(2):
        assert list(story_pictures(desk, player.id, ("days", "no such chart"))) == ["days"]
    assert drawn == ["days"]
    desk.putts.add(session.id, some_putts(2, prefix="later-"))
    story_pictures(desk, player.id, ("days",))
    assert drawn == ["days", "days"]
