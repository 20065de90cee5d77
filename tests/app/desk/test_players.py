"""Players, consent, equipment and sessions: what is kept, who may see it, and edits that cross."""

from __future__ import annotations

import datetime as dt
import io
from typing import Any

import pytest

from pacewright.app.desk import convert
from pacewright.app.desk.context import Actor
from pacewright.app.desk.desk import Desk
from pacewright.core.errors import (
    ConflictError,
    ConsentError,
    FileKindError,
    ForbiddenError,
    NotFoundError,
    ReadError,
    SettingsError,
)
from pacewright.records.ids import new_id
from pacewright.records.schema import Player
from tests.app.desk.people import add_recording, ids, some_putts, stroke_table, willing_player


def test_a_player_is_kept_as_it_was_said(desk: Desk) -> None:
    made = desk.players.create(
        "  Åsa   Lindqvist ", birth_year=1990, left_handed=True, units="imperial", notes="x"
    )
    kept = desk.players.get(made.id)
    assert kept == made
    assert (kept.name, kept.left_handed, kept.units, kept.version) == ("Åsa Lindqvist", True, "imperial", 1)


@pytest.mark.parametrize(
    "wrong", [{"name": " "}, {"name": "a\nb" * 60}, {"units": "rods"}, {"birth_year": 85}, {"language": ""}]
)
def test_what_makes_no_sense_is_refused(desk: Desk, wrong: dict[str, Any]) -> None:
    with pytest.raises(SettingsError):
        desk.players.create(**{"name": "Ida"} | wrong)
    assert desk.players.list().items == ()


def test_the_second_of_two_edits_of_one_version_is_refused(desk: Desk) -> None:
    player = desk.players.create("Ida")
    changed = desk.players.update(player.id, player.version, notes="first")
    with pytest.raises(ConflictError):
        desk.players.update(player.id, player.version, notes="second")
    assert desk.players.get(player.id).notes == "first"
    assert changed.version == 2
    with pytest.raises(SettingsError):
        desk.players.update(player.id, 2, figures_version=9)


def test_players_are_listed_by_name_without_accents_page_by_page(desk: Desk) -> None:
    names = ["Zoë", "Émile", "emil", "Östen", "Anna", "Anna"]
    for name in names:
        desk.players.create(name)
    seen, after = [], None
    while True:
        page = desk.players.list(after=after, limit=2)
        seen += [line.name for line in page.items]
        after = page.next
        if after is None:
            break
    assert seen == ["Anna", "Anna", "emil", "Émile", "Östen", "Zoë"]
    assert [line.name for line in desk.players.list(search="EMIL").items] == ["emil", "Émile"]
    assert desk.players.list(search="%").items == ()
    for wrong in ("x", "W10", "!!"):
        with pytest.raises(SettingsError):
            desk.players.list(after=wrong)


def test_a_player_account_sees_itself_alone_and_changes_nothing(desk: Desk) -> None:
    one, other = willing_player(desk), willing_player(desk, "Owen")
    session = desk.sessions.create(other.id)
    putt = desk.putts.add(session.id, some_putts(1))[0]
    green = desk.greens.create("Practice", 3.0)
    as_one = desk.acting(Actor("ida", "player", one.id))
    assert ids(as_one.players.list().items) == [one.id]
    assert as_one.players.get(one.id).name == one.name
    for forbidden in (
        lambda: as_one.players.get(other.id),
        lambda: as_one.sessions.get(session.id),
        lambda: as_one.sessions.list(player_id=other.id),
        lambda: as_one.putts.get(putt.id),
        lambda: as_one.putts.list(session_id=session.id),
        lambda: as_one.story.of_player(other.id),
        lambda: as_one.plans.active(other.id),
        lambda: as_one.consents.of_player(other.id),
        lambda: as_one.privacy.export(other.id, "/nowhere/x.zip"),
    ):
        with pytest.raises(NotFoundError):
            forbidden()
    assert as_one.sessions.list().items == ()
    for forbidden in (
        lambda: as_one.players.update(one.id, 1, notes="x"),
        lambda: as_one.players.delete(one.id),
        lambda: as_one.sessions.create(one.id),
        lambda: as_one.greens.get(green.id),
        lambda: as_one.story.today(),
        lambda: as_one.privacy.erase(one.id),
        lambda: as_one.backups.list(),
        lambda: as_one.users.list(),
        lambda: as_one.undo.recent(),
        lambda: as_one.settings.set("units", "imperial"),
        lambda: as_one.jobs.open(),
    ):
        with pytest.raises(ForbiddenError):
            forbidden()
    assistant = desk.acting(Actor("amy", "assistant"))
    assistant.sessions.create(one.id)
    for forbidden in (
        lambda: assistant.privacy.erase(one.id),
        lambda: assistant.backups.make(),
        lambda: assistant.users.list(),
        lambda: assistant.journal.list(),
    ):
        with pytest.raises(ForbiddenError):
            forbidden()


def test_nothing_is_recorded_before_the_player_agreed(desk: Desk) -> None:
    player = desk.players.create("Ida", birth_year=1980)
    session = desk.sessions.create(player.id)
    with pytest.raises(ConsentError, match="Ida has not agreed"):
        add_recording(desk, session)
    with pytest.raises(ConsentError):
        desk.uploads.begin(session.id, "a.csv", 10)
    assert desk.recordings.of_session(session.id) == ()
    assert desk.uploads.of_session(session.id) == ()
    given = desk.consents.give(player.id, "recording", "player")
    add_recording(desk, session)
    desk.consents.withdraw(given.id)
    with pytest.raises(ConsentError):
        add_recording(desk, session)
    assert len(desk.recordings.of_session(session.id)) == 1
    assert desk.consents.of_player(player.id)[0].withdrawn_at is not None


def test_a_minor_needs_a_guardian_as_well(desk: Desk) -> None:
    player = desk.players.create("Tam", birth_year=dt.date.today().year - 12)
    session = desk.sessions.create(player.id)
    desk.consents.give(player.id, "recording", "player")
    with pytest.raises(ConsentError, match="guardian"):
        add_recording(desk, session)
    guardian = desk.players.add_guardian(player.id, "Bo Tam", relation="father")
    other = desk.players.create("Owen")
    with pytest.raises(NotFoundError):
        desk.consents.give(other.id, "recording", "guardian", guardian_id=guardian.id)
    desk.consents.give(player.id, "recording", "guardian", guardian_id=guardian.id)
    with pytest.raises(ConflictError):
        desk.consents.give(player.id, "recording", "guardian", guardian_id=guardian.id)
    assert desk.players.get(player.id).missing_consents == ()
    add_recording(desk, session)


@pytest.mark.parametrize(
    ("birth_year", "said", "minor"),
    [(2008, None, True), (2007, None, False), (2015, False, False), (None, True, True), (None, None, False)],
)
def test_who_is_under_age_in_doubt_yes(birth_year: int | None, said: bool | None, minor: bool) -> None:
    """Born in 2008 one is 17 or 18 in 2026: only the year is known."""
    row = Player(name="x", birth_year=birth_year, is_minor=said)
    assert convert.is_minor(row, dt.date(2026, 6, 1)) is minor


def test_a_session_keeps_the_green_as_it_was_that_day(desk: Desk) -> None:
    player, green = desk.players.create("Ida"), desk.greens.create("Practice", 3.0)
    session = desk.sessions.create(player.id, green_id=green.id)
    measured = desk.greens.measure(green.id, [3.3, 3.3], [3.5, 3.5])
    assert measured.speed_m > 3.2
    kept = desk.sessions.get(session.id).green
    assert kept is not None
    assert kept.speed_m == 3.0
    readings = desk.greens.readings(green.id)
    assert [len(one.up_m) for one in readings] == [2, 0]
    desk.greens.delete(green.id)
    assert desk.sessions.get(session.id).green is not None


def test_a_group_takes_turns_and_each_has_its_own_session(desk: Desk) -> None:
    players = [desk.players.create(name) for name in ("Ida", "Owen", "Tam")]
    made = desk.sessions.create_group(ids(players), place="range")
    assert made[0].group_id is not None
    assert [one.player_name for one in desk.sessions.of_group(made[0].group_id)] == ["Ida", "Owen", "Tam"]
    with pytest.raises(SettingsError):
        desk.sessions.create_group([players[0].id, players[0].id])
    with pytest.raises(NotFoundError):
        desk.sessions.create_group([players[0].id, new_id()])
    assert len(desk.sessions.list().items) == 3


def test_sessions_are_counted_and_come_newest_first(desk: Desk) -> None:
    player = willing_player(desk)
    old = desk.sessions.create(player.id, held_on=dt.date(2026, 1, 5))
    new = desk.sessions.create(player.id, held_on=dt.date(2026, 2, 5))
    desk.putts.add(new.id, some_putts(3))
    add_recording(desk, new)
    found = desk.sessions.list(player_id=player.id).items
    assert ids(found) == [new.id, old.id]
    assert (found[0].putts, found[0].recordings, found[0].open_jobs, found[1].putts) == (3, 1, 1, 0)
    assert desk.sessions.end(new.id).ended_at is not None
    assert desk.sessions.reopen(new.id).ended_at is None


def test_another_players_putter_is_refused(desk: Desk) -> None:
    one, other = desk.players.create("Ida"), desk.players.create("Owen")
    putter = desk.putters.create(other.id, "Blade")
    with pytest.raises(SettingsError):
        desk.sessions.create(one.id, putter_id=putter.id)
    with pytest.raises(SettingsError):
        desk.putters.create(one.id, "Anvil", head_mass_kg=9.0)


@pytest.mark.parametrize(
    ("name", "data"),
    [("a.exe", b"MZ\x90\x00"), ("a.csv", b"\x00\x01\x02"), ("a.html", b"<html>"), ("a.csv", b"")],
)
def test_what_is_no_recording_is_refused(desk: Desk, name: str, data: bytes) -> None:
    session = desk.sessions.create(willing_player(desk).id)
    with pytest.raises(FileKindError if data else ReadError):
        desk.recordings.add(session.id, name, io.BytesIO(data))
    assert desk.recordings.of_session(session.id) == ()


def test_a_name_with_folders_in_it_is_only_a_name(desk: Desk) -> None:
    session = desk.sessions.create(willing_player(desk).id)
    kept = desk.recordings.add(session.id, "..\\..\\etc/../putts.csv", io.BytesIO(stroke_table()))
    assert kept.name == "putts.csv"
    assert desk.recordings.path(kept.id).is_relative_to(desk.data_dir)
