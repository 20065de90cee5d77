"""The demo club: invented players with a year of sessions, the same every time.

Everybody here is made up, and marked so. Their putts come from `simulate.players`, whose causes of error are
known; three of them left recordings too, which are analysed as any other. At a desk that people use the club
is made by a job, beside the database, and comes in as a whole.
"""

from __future__ import annotations

import datetime as dt
import io
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from sqlalchemy import select, text
from sqlalchemy.orm import Session as Transaction

from pacewright.app.demo import recording_csv
from pacewright.app.desk.context import Context, alive
from pacewright.app.desk.desk import Desk
from pacewright.app.desk.practice import PlanRequest, StationRequest
from pacewright.app.desk.putts import NewPutt
from pacewright.app.desk.sharing import PracticeDay
from pacewright.app.desk.views import GreenView, PlayerView, SessionView
from pacewright.app.putting import ball_speed_ratio, launch_for_length
from pacewright.ball.impact import head_speed_kept
from pacewright.core.equipment import Putter
from pacewright.core.errors import ConflictError
from pacewright.core.outcome import Putt
from pacewright.records.backup import PEOPLE, copy_rows
from pacewright.records.files import blocks_of
from pacewright.records.schema import Player, Setting
from pacewright.simulate.demo_club import CLUB, PLAYERS, DemoPutt, demo_recording
from pacewright.simulate.players import SimulatedPlayer, Task, mixed_lengths, simulate_putts

LAST_DAY = dt.date(2026, 10, 31)
"""The club's year ends here; fixed, so that the club is the same every time."""
SESSIONS = 13
DAYS_BETWEEN = 28
PUTTS_A_SESSION = 30
BEATS = (72.0, 80.0, 88.0)
Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Member:
    """An invented member: how the player putts, and how much of each error is left after a year's
    practice."""

    name: str
    putts: SimulatedPlayer
    left_after_a_year: float = 1.0
    birth_year: int = 1980
    left_handed: bool = False
    units: str = "metric"
    records: int | None = None
    """Which of the demo's two strokes this member has, where there are recordings."""


MEMBERS = (
    Member(
        "Nora Velling", SimulatedPlayer(timing_sd=0.09, best_beat=80, beat_cost=0.3), 0.6, 1991, records=0
    ),
    Member("Owen Tarrant", SimulatedPlayer(length_sd=0.03, timing_sd=0.02), 0.9, 1968, records=1),
    Member("Ida Morwenna", SimulatedPlayer(length_sd=0.08, bias=-0.06), 0.5, 1975, records=0),
    Member("Bertil Quarne", SimulatedPlayer(judgement_sd=0.12), 0.7, 1952),
    Member("Tamsin Orrick", SimulatedPlayer(strike_sd=0.07), 0.6, 1988, units="imperial"),
    Member("Jago Penhallow", SimulatedPlayer(shape_sd=0.08), 0.8, 1999, left_handed=True),
    Member("Edda Ravnsborg", SimulatedPlayer(length_sd=0.05, timing_sd=0.05, warm_up=0.15), 0.8, 1983),
    Member("Cato Windrush", SimulatedPlayer(bias=0.08, length_sd=0.06), 0.7, 1995, units="imperial"),
    Member("Sunniva Hale", SimulatedPlayer(line_sd_rad=0.04), 0.9, 1979),
    Member("Piran Lockwood", SimulatedPlayer(timing_sd=0.07, time_exponent=0.15), 0.7, 1961),
    Member("Wren Castellow", SimulatedPlayer(judgement_sd=0.09, feel=0.2), 0.75, 2012),
    Member("Aksel Dunmore", SimulatedPlayer(length_sd=0.02, timing_sd=0.02, shape_sd=0.02), 1.0, 1972),
    Member("Lowen Ashgrove", SimulatedPlayer(length_sd=0.07, block_share=0.4), 0.65, 1986, left_handed=True),
)


@contextmanager
def club_beside(context: Context, progress: Progress) -> Iterator[Callable[[Transaction], None]]:
    """Make the club in a folder beside the desk's own; what is yielded brings all of it in.

    A process that is killed meanwhile leaves nothing at the desk. Bringing it in where it is already changes
    nothing. ``progress`` is called with the share done, 0 to 1, and may raise to give up.
    """
    with (
        tempfile.TemporaryDirectory(prefix="club-", dir=context.files.incoming) as folder,
        Desk.open(folder) as beside,
    ):
        with context.database.read() as transaction:
            is_new = not is_there(transaction)
        if is_new:
            seed_demo_club(beside, progress)
            files = beside._context.files
            for sha256 in files.all_hashes():
                with files.place(sha256).open("rb") as stream:
                    context.files.put(blocks_of(stream), expected=sha256)
        yield partial(_bring_in, beside)


def is_there(transaction: Transaction) -> bool:
    """Whether the club is at a desk."""
    names = [member.name for member in MEMBERS]
    some = select(Player.id).where(Player.is_invented, Player.name.in_(names), alive(Player)).limit(1)
    return transaction.scalar(some) is not None


def _bring_in(beside: Desk, transaction: Transaction) -> None:
    if transaction.get_bind().dialect.name == "postgresql":
        # Two workers with the same order: the second one waits, and then finds the club.
        transaction.execute(text("LOCK TABLE players IN SHARE ROW EXCLUSIVE MODE"))
    if is_there(transaction):
        return
    copy_rows(beside._context.database, transaction.connection(), PEOPLE)
    if transaction.get(Setting, "club") is None:
        transaction.add(Setting(name="club", value=CLUB))


def seed_demo_club(desk: Desk, progress: Progress | None = None) -> tuple[PlayerView, ...]:
    """Fill an empty desk with the demo club, here and now. Raises ConflictError when players are there
    already."""
    if desk.players.list(limit=1).items:
        raise ConflictError(
            "There are players in this data folder already; make the demo club in an empty one."
        )
    desk.settings.set("club", CLUB)
    practice = desk.greens.create(f"{CLUB}, practice green", 3.05, place=CLUB)
    practice = desk.greens.measure(practice.id, [2.86, 2.9], [3.2, 3.25])
    desk.greens.create(f"{CLUB}, carpet", 3.4, place=CLUB, notes="Indoors.")
    told: Progress = progress or (lambda _: None)
    players = tuple(_member(desk, number, member, practice, told) for number, member in enumerate(MEMBERS))
    _group(desk, players[:3], practice)
    _practice_from_a_phone(desk, players[1])
    return players


def _member(desk: Desk, number: int, member: Member, green: GreenView, progress: Progress) -> PlayerView:
    rng = np.random.default_rng([20261031, number])
    player = desk.players.create(
        member.name, birth_year=member.birth_year, left_handed=member.left_handed, units=member.units,
        notes="Invented.", is_invented=True,
    )  # fmt: skip
    _agree(desk, player)
    putter = desk.putters.create(player.id, "Blade" if number % 2 else "Mallet")
    first = LAST_DAY - dt.timedelta(days=DAYS_BETWEEN * (SESSIONS - 1) + number)
    for k in range(SESSIONS):
        day = first + dt.timedelta(days=DAYS_BETWEEN * k)
        kind = "first test" if k == 0 else "retention test" if k == SESSIONS - 1 else "lesson"
        session = desk.sessions.create(
            player.id, held_on=day, putter_id=putter.id, green_id=green.id, place=CLUB, kind=kind
        )
        left = member.left_after_a_year ** (k / (SESSIONS - 1))
        _play(desk, session, _practised(member.putts, left), rng, beats=k in (4, 5))
        if member.records is not None and k in (0, SESSIONS - 1):
            _record(desk, session, member.records, seed=100 * number + k)
        desk.sessions.end(session.id)
        progress((number + 0.5 * (k + 1) / SESSIONS) / len(MEMBERS))
    lengths = (2.0, 4.0, 7.0)
    desk.stations.keep(player.id, StationRequest(lengths, green.id, putter_id=putter.id))
    if number % 3 != 2:
        desk.plans.make(player.id, PlanRequest(lengths, LAST_DAY + dt.timedelta(days=2), green_id=green.id))
    desk.story.of_player(player.id)
    progress((number + 1) / len(MEMBERS))
    return desk.players.get(player.id)


def _agree(desk: Desk, player: PlayerView) -> None:
    desk.consents.give(player.id, "recording", "player", how="invented")
    if player.is_minor:
        guardian = desk.players.add_guardian(player.id, f"Parent of {player.name}", relation="parent")
        desk.consents.give(player.id, "recording", "guardian", guardian_id=guardian.id, how="invented")
    if player.birth_year is not None and player.birth_year % 2:
        desk.consents.give(player.id, "sharing", "player", how="invented")


def _practised(player: SimulatedPlayer, left: float) -> SimulatedPlayer:
    """The player with what is left of its own errors; reading and the green stay as they are."""
    return replace(
        player,
        length_sd=player.length_sd * left,
        timing_sd=player.timing_sd * left,
        shape_sd=player.shape_sd * left,
        strike_sd=player.strike_sd * left,
        judgement_sd=player.judgement_sd * left,
        bias=player.bias * left,
    )


def _play(
    desk: Desk, session: SessionView, player: SimulatedPlayer, rng: np.random.Generator, *, beats: bool
) -> None:
    """The putts of a session: mixed lengths, or blocks to several beats."""
    if beats:
        tasks = [Task((4.0,) * 12, f"beat {beat:g}", repeated=True, beats_per_minute=beat) for beat in BEATS]
    else:
        tasks = [Task(mixed_lengths(rng, PUTTS_A_SESSION), "mixed")]
    played = simulate_putts(player, rng, tasks, hole=True)
    begun = dt.datetime.combine(session.held_on, dt.time(16), dt.UTC)
    desk.putts.add(
        session.id,
        [_new(putt, begun + dt.timedelta(seconds=40 * k), k, session) for k, putt in enumerate(played)],
    )
    if beats:
        best = player.best_beat or 80.0
        for beat in BEATS:
            desk.putts.comfort(session.id, f"beat {beat:g}", beat, max(1.0, 5.0 - abs(beat - best) / 8.0))


def _new(putt: Putt, at: dt.datetime, k: int, session: SessionView) -> NewPutt:
    return NewPutt(
        putt.asked_m, putt.outcome, putt.guess_along_m, putt.block, putt.phase, putt.beats_per_minute,
        measures=putt.measures, client_id=f"demo-{session.held_on}-{k}", played_at=at,
    )  # fmt: skip


def _record(desk: Desk, session: SessionView, stroke: int, seed: int) -> None:
    """A recording of ten strokes of 3.66 m, analysed here and now."""
    putter, length_m = Putter(), 3.66
    assert session.green is not None
    speed = launch_for_length(length_m, session.green).launch_speed_m_s / ball_speed_ratio(putter)
    member = PLAYERS[stroke]
    recording = demo_recording(
        member, DemoPutt(length_m, speed), speed_kept=head_speed_kept(putter), seed=seed
    )
    settings = {"arc_radius_m": 1.35} if member.uses_sensor else {}
    desk.recordings.add(
        session.id, f"putts-{session.held_on}.csv", io.BytesIO(recording_csv(recording).encode()),
        asked_m=length_m, settings=settings,
    )  # fmt: skip
    desk.work_once()


def _group(desk: Desk, players: tuple[PlayerView, ...], green: GreenView) -> None:
    """A lesson of several players that is still open."""
    desk.sessions.create_group(
        [player.id for player in players], held_on=LAST_DAY, green_id=green.id, place=CLUB
    )


def _practice_from_a_phone(desk: Desk, player: PlayerView) -> None:
    """A day of practice that came in through a link and that nobody has looked at."""
    rng = np.random.default_rng(7)
    _, token = desk.sharing.create(player.id, label="phone")
    tasks = [Task(mixed_lengths(rng, 20), "mixed")]
    at = dt.datetime.combine(LAST_DAY, dt.time(9), dt.UTC)
    putts = [
        NewPutt(putt.asked_m, putt.outcome, putt.guess_along_m, putt.block, client_id=f"phone-{k}",
                played_at=at + dt.timedelta(seconds=30 * k))
        for k, putt in enumerate(simulate_putts(MEMBERS[1].putts, rng, tasks, hole=True))
    ]  # fmt: skip
    desk.sharing.sync(token, PracticeDay("phone-day", LAST_DAY, tuple(putts)))
