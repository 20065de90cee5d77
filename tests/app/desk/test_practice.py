"""Putts and their figures, stations and plans, links for players, practice that comes back, accounts."""

from __future__ import annotations

import dataclasses
import datetime as dt
import io
import math
from typing import Any

import numpy as np
import pytest

from pacewright.app.budgets import budget_putts
from pacewright.app.desk.desk import Desk
from pacewright.app.desk.practice import PlanRequest, StationRequest
from pacewright.app.desk.putts import NewPutt
from pacewright.app.desk.reports import ReportRequest
from pacewright.app.desk.sharing import NewDrillResult, PracticeDay
from pacewright.app.desk.views import SessionView
from pacewright.core.errors import (
    ConflictError,
    ConsentError,
    FileKindError,
    ForbiddenError,
    LimitError,
    NotFoundError,
    ReadError,
    SettingsError,
)
from pacewright.core.outcome import Outcome, Putt
from pacewright.records.schema import ShareToken
from pacewright.records.schema.base import now
from pacewright.simulate.players import SimulatedPlayer, Task, mixed_lengths, simulate_putts
from tests.app.desk.people import some_putts, willing_player


def _session(desk: Desk) -> SessionView:
    return desk.sessions.create(willing_player(desk).id)


def _new(putt: Putt) -> NewPutt:
    return NewPutt(
        putt.asked_m, putt.outcome, putt.guess_along_m, putt.block, putt.phase, putt.beats_per_minute,
        measures=putt.measures,
    )  # fmt: skip


def test_putts_come_back_as_the_figures_want_them(desk: Desk) -> None:
    """What is stored gives the same budget as what was played."""
    rng = np.random.default_rng(3)
    played = simulate_putts(SimulatedPlayer(), rng, [Task(mixed_lengths(rng, 60), "mixed")], hole=True)
    session = _session(desk)
    desk.putts.add(session.id, [_new(putt) for putt in played])
    kept = desk.putts.for_figures(session.player_id)
    bare = [dataclasses.replace(putt, session="", green=None) for putt in kept]
    assert bare == played
    told = desk.story.of_player(session.player_id).budget
    assert told.body is not None
    assert told.body["spread_share"] == pytest.approx(budget_putts(played).budget.spread_share)
    assert desk.story.of_player(session.player_id).budget == told


def test_a_story_follows_every_change_of_the_putts(desk: Desk) -> None:
    session = _session(desk)
    putts = desk.putts.add(session.id, some_putts(40))
    first = desk.story.of_player(session.player_id)
    desk.putts.update(putts[0].id, 1, outcome=Outcome(9.0))
    second = desk.story.of_player(session.player_id)
    assert second.budget.statement != first.budget.statement
    step = desk.putts.delete(putts[0].id)
    assert desk.story.of_player(session.player_id).putts == 39
    desk.undo.take_back(step.id)
    assert desk.story.of_player(session.player_id).budget == second.budget


def test_two_sessions_tell_progress_and_days(desk: Desk) -> None:
    player = willing_player(desk)
    for month, error in ((1, 0.3), (2, 0.1)):
        session = desk.sessions.create(player.id, held_on=dt.date(2026, month, 1))
        moment = dt.datetime(2026, month, 1, 10, tzinfo=dt.UTC)
        putts = [
            dataclasses.replace(putt, played_at=moment + dt.timedelta(minutes=k))
            for k, putt in enumerate(some_putts(40, prefix=f"m{month}-", error=error))
        ]
        desk.putts.add(session.id, putts)
    story = desk.story.of_player(player.id)
    assert story.progress.body is not None
    assert story.progress.body["spread_ratio"]["value"] < 0.5
    assert [day.held_on.month for day in story.days] == [1, 2]
    assert story.days[0].spread_share > 2 * story.days[1].spread_share


def test_a_putt_sent_twice_is_there_once(desk: Desk) -> None:
    session = _session(desk)
    first = desk.putts.add(session.id, some_putts(5))
    again = desk.putts.add(session.id, some_putts(7))
    assert again[:5] == first
    assert len(desk.putts.list(session_id=session.id).items) == 7
    desk.putts.delete(first[0].id)
    desk.putts.add(session.id, some_putts(1))
    assert len(desk.putts.list(session_id=session.id).items) == 6, "what the coach deleted does not come back"


def test_putts_keep_the_order_in_which_they_were_entered(desk: Desk) -> None:
    session = _session(desk)
    for k in range(5):
        desk.putts.add(session.id, some_putts(60, first=60 * k))
    seen: list[Any] = []
    after = None
    while True:
        page = desk.putts.list(session_id=session.id, after=after, limit=70)
        seen += [putt.client_id for putt in page.items]
        after = page.next
        if after is None:
            break
    assert seen == [f"p{k}" for k in range(300)]


@pytest.mark.parametrize(
    ("finish", "along", "holed"),
    [("+2ft", 3.6096, False), ("-40cm", 2.6, False), ("in", None, True), ("holed 1ft past", 3.3048, True)],
)
def test_a_putt_is_entered_as_it_is_called_out(
    desk: Desk, finish: str, along: float | None, holed: bool
) -> None:
    putt = desk.putts.add_spoken(_session(desk).id, 3.0, finish, guess="-10cm", block="a")
    assert putt.finish_along_m == (None if along is None else pytest.approx(along))
    assert (putt.holed, putt.guess_along_m) == (holed, pytest.approx(2.9))


@pytest.mark.parametrize(
    "wrong",
    [
        NewPutt(-1.0, Outcome(3.0)), NewPutt(math.nan, Outcome(3.0)), NewPutt(3.0, Outcome(math.inf)),
        NewPutt(3.0, Outcome(3.0), phase="play"), NewPutt(3.0, Outcome(3.0), beats_per_minute=1e9),
        NewPutt(3.0, Outcome(3.0), client_id="x" * 99), NewPutt(3.0, Outcome(-2.0)),
    ],
)  # fmt: skip
def test_one_bad_putt_keeps_all_out(desk: Desk, wrong: NewPutt) -> None:
    session = _session(desk)
    with pytest.raises(SettingsError):
        desk.putts.add(session.id, [*some_putts(3), wrong])
    assert desk.putts.list(session_id=session.id).items == ()


def test_a_table_of_putts_is_kept_once_and_a_bad_line_is_named(desk: Desk) -> None:
    session = _session(desk)
    table = b"asked_m,finish,beats_per_minute\n3,+2ft,80\n4,in,80\n"
    assert len(desk.putts.add_table(session.id, table, "t.csv")) == 2
    desk.putts.add_table(session.id, table, "t.csv")
    assert len(desk.putts.list(session_id=session.id).items) == 2
    with pytest.raises(ReadError, match="line 3"):
        desk.putts.add_table(session.id, table.replace(b"4,in", b"x,in"), "t.csv")


def test_comfort_of_a_block_goes_to_its_putts(desk: Desk) -> None:
    session = _session(desk)
    for block, beats in (("a", 70.0), ("b", 80.0)):
        putts = [dataclasses.replace(p, block=block) for p in some_putts(8, prefix=block)]
        desk.putts.add(session.id, putts)
        desk.putts.comfort(session.id, block, beats, 3.0)
    desk.putts.comfort(session.id, "b", 80.0, 5.0)
    kept = desk.putts.for_figures(session.player_id)
    assert {(p.block, p.beats_per_minute, p.comfort) for p in kept} == {("a", 70.0, 3.0), ("b", 80.0, 5.0)}
    assert desk.story.of_player(session.player_id).tempo.body is not None


def test_a_station_is_previewed_kept_and_printed(desk: Desk) -> None:
    player, green = willing_player(desk), desk.greens.create("Practice", 3.0)
    request = StationRequest((2.0, 4.0), green.id, beats_per_minute=80.0)
    shown = desk.stations.preview(player.id, request)
    kept = desk.stations.keep(player.id, request)
    assert kept.body["beats_per_minute"] == 80.0
    assert [one["back_marker_m"] for one in kept.body["stations"]] == [
        one.back_marker_m for one in shown.stations
    ]
    assert desk.reports.strip(player.id, request).startswith(b"%PDF")
    with pytest.raises(SettingsError):
        desk.stations.preview(player.id, StationRequest((), green.id))


def test_a_new_plan_takes_the_place_of_the_active_one(desk: Desk) -> None:
    player, green = willing_player(desk), desk.greens.create("Practice", 3.0)
    request = PlanRequest((2.0, 4.0), dt.date(2026, 3, 2), green_id=green.id)
    first = desk.plans.make(player.id, request)
    second = desk.plans.make(player.id, dataclasses.replace(request, beats_per_minute=77.0))
    active = desk.plans.active(player.id)
    assert active is not None
    assert (active.id, active.body["beats_per_minute"]) == (second.id, 77.0)
    assert not desk.plans.get(first.id).is_active
    assert [plan.id for plan in desk.plans.of_player(player.id).items] == [second.id, first.id]
    assert desk.story.today().due[0].id == player.id
    assert desk.reports.plan(player.id, request, "ics").startswith(b"BEGIN:VCALENDAR")
    desk.plans.end(second.id)
    assert desk.plans.active(player.id) is None
    with pytest.raises(SettingsError):
        desk.plans.make(player.id, PlanRequest((2.0,), dt.date(2026, 3, 2), weekdays=()))
    with pytest.raises(Exception, match="session"):
        desk.reports.report(ReportRequest(()))


def _day(**changes: Any) -> PracticeDay:
    day = PracticeDay(
        "day-1", dt.date.today(), tuple(some_putts(6, prefix="s")),
        (NewDrillResult("d1", "ladder", now(), {"points": 3}),), (("a", 80.0, 4.0),),
    )  # fmt: skip
    return dataclasses.replace(day, **changes)


def test_practice_arrives_once_unread_and_counts_in_the_figures(desk: Desk) -> None:
    player = willing_player(desk)
    desk.plans.make(player.id, PlanRequest((2.0,), dt.date(2026, 3, 2)))
    _, token = desk.sharing.create(player.id)
    opened = desk.sharing.open(token)
    assert opened.plan is not None
    assert opened.player_name == player.name
    done = desk.sharing.sync(token, _day())
    assert done.added == 7
    assert desk.sharing.sync(token, _day()).added == 0
    (session,) = desk.story.today().unread
    assert (session.id, session.origin, session.putts) == (done.session_id, "player", 6)
    assert not desk.sessions.mark_read(session.id).is_unread
    assert desk.sharing.sync(token, _day()).added == 0
    assert desk.story.today().unread == ()
    more = (*some_putts(6, prefix="s"), *some_putts(2, prefix="t"))
    assert desk.sharing.sync(token, _day(putts=more)).added == 2
    assert len(desk.story.today().unread) == 1
    assert desk.story.of_player(player.id).putts == 8
    assert [one.drill for one in desk.plans.drill_results(player.id)] == ["ladder"]


def test_a_token_that_does_not_hold_is_refused_in_the_same_words(desk: Desk) -> None:
    player, other = willing_player(desk), willing_player(desk, "Owen")
    made = {name: desk.sharing.create(player.id) for name in ("revoked", "expired", "deleted player")}
    desk.sharing.revoke(made["revoked"][0].id)
    with desk._context.write() as transaction:
        row = transaction.get(ShareToken, made["expired"][0].id)
        assert row is not None
        row.expires_at = now() - dt.timedelta(seconds=1)
    said = set()
    for name, token in [(n, t) for n, (_, t) in made.items()] + [("guessed", "x" * 43), ("empty", "")]:
        if name == "deleted player":
            desk.players.delete(player.id)
        for use in (lambda t: desk.sharing.open(t), lambda t: desk.sharing.sync(t, _day())):
            with pytest.raises(ForbiddenError) as caught:
                use(token)
            said.add(str(caught.value))
    assert len(said) == 1
    assert desk.sessions.list().items == ()
    assert desk.sharing.of_player(other.id) == ()


def test_a_token_reaches_its_own_player_alone(desk: Desk) -> None:
    one, other = willing_player(desk), willing_player(desk, "Owen")
    session = desk.sessions.create(other.id)
    theirs = desk.putts.add(session.id, some_putts(3, prefix="s"))
    plan = desk.plans.make(other.id, PlanRequest((2.0,), dt.date(2026, 3, 2)))
    _, token = desk.sharing.create(one.id)
    with pytest.raises(NotFoundError):
        desk.sharing.create(one.id, plan_id=plan.id)
    desk.sharing.sync(token, _day())
    assert desk.putts.list(session_id=session.id).items == theirs
    assert desk.story.of_player(one.id).putts == 6
    assert desk.sharing.open(token).plan is None


def test_only_the_hash_of_a_token_is_kept(desk: Desk) -> None:
    _, token = desk.sharing.create(willing_player(desk).id)
    with desk._context.read() as transaction:
        row = transaction.query(ShareToken).one()
    assert token not in str(dict(vars(row)))


@pytest.mark.parametrize(
    "wrong",
    [
        {"putts": (NewPutt(3.0, Outcome(3.0)),)}, {"client_id": ""}, {"held_on": dt.date(2090, 1, 1)},
        {"kind": "lesson"}, {"comfort": (("a", 80.0, 9.0),)},
        {"putts": tuple(some_putts(2500))}, {"drills": (NewDrillResult("", "x", now()),)},
    ],
)  # fmt: skip
def test_practice_that_makes_no_sense_leaves_nothing(desk: Desk, wrong: dict[str, Any]) -> None:
    _, token = desk.sharing.create(willing_player(desk).id)
    with pytest.raises((SettingsError, LimitError)):
        desk.sharing.sync(token, _day(**wrong))
    assert desk.sessions.list().items == ()


def test_a_clip_for_review_needs_both_consents_and_comes_once(desk: Desk) -> None:
    player = desk.players.create("Ida", birth_year=1980)
    _, token = desk.sharing.create(player.id)
    clip = b"\x00\x00\x00\x18ftypmp42" + bytes(200)

    def send(data: bytes = clip) -> Any:
        return desk.sharing.send_clip(token, "day-1", dt.date.today(), "putt.mp4", io.BytesIO(data))

    desk.consents.give(player.id, "recording", "player")
    with pytest.raises(ConsentError, match="clips"):
        send()
    desk.consents.give(player.id, "clip_review", "player")
    assert desk.sharing.open(token).may_send_clips
    assert send().id == send().id
    with pytest.raises(FileKindError):
        send(b"time_s,head_x_m\n")
    assert len(desk.story.today().unread) == 1


def test_accounts_log_in_and_out(desk: Desk) -> None:
    assert not desk.users.are_there_any()
    made = desk.users.create("Coach  Kim", "four quiet words here", "coach")
    assert desk.users.are_there_any()
    login = desk.users.log_in("coach kim", "four quiet words here")
    found = desk.users.logged_in(login.token)
    assert found is not None
    assert (found.user, found.actor.role, found.csrf_token) == (made, "coach", login.csrf_token)
    for name, password in (("coach kim", "four quiet words"), ("nobody", "x"), ("coach kim", "x" * 5000)):
        with pytest.raises(ForbiddenError) as caught:
            desk.users.log_in(name, password)
        assert str(caught.value) == "Name and password do not belong together."
    desk.users.log_out(login.token)
    assert desk.users.logged_in(login.token) is None
    assert desk.users.logged_in("") is None


def test_a_changed_password_and_a_closed_account_end_every_log_in(desk: Desk) -> None:
    made = desk.users.create("kim", "four quiet words here", "coach")
    login = desk.users.log_in("kim", "four quiet words here")
    desk.users.set_password(made.id, "other quiet words here")
    assert desk.users.logged_in(login.token) is None
    with pytest.raises(ConflictError, match="last coach"):
        desk.users.set_active(made.id, False)
    player = desk.players.create("Ida")
    theirs = desk.users.create("ida", "some quiet words here", "player", player_id=player.id)
    login = desk.users.log_in("ida", "some quiet words here")
    found = desk.users.logged_in(login.token)
    assert found is not None
    with pytest.raises(ForbiddenError):
        desk.acting(found.actor).users.set_password(made.id, "an intruder's words")
    desk.users.set_active(theirs.id, False)
    assert desk.users.logged_in(login.token) is None
    with pytest.raises(ForbiddenError):
        desk.users.log_in("ida", "some quiet words here")


@pytest.mark.parametrize(
    ("name", "password", "role"),
    [("kim", "short", "coach"), ("kim kim kim", "Kim kim kim", "coach"), ("", "four quiet words", "coach"),
     ("kim", "aaaaaaaaaaaaaa", "coach"), ("kim", "four quiet words", "player")],
)  # fmt: skip
def test_poor_accounts_are_refused(desk: Desk, name: str, password: str, role: Any) -> None:
    with pytest.raises(SettingsError):
        desk.users.create(name, password, role)
    assert desk.users.list() == ()


def test_settings_are_kept_and_checked(desk: Desk) -> None:
    assert desk.settings.all()["units"] == "metric"
    assert desk.settings.set("units", "imperial")["units"] == "imperial"
    desk.settings.set("club", "Harrow Fen")
    assert desk.settings.all()["club"] == "Harrow Fen"
    for name, value in (("units", "rods"), ("colour", "red"), ("club", "x" * 500)):
        with pytest.raises(SettingsError):
            desk.settings.set(name, value)
