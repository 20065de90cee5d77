"""Links for players: a token opens one player's plan and takes back what was practised.

A token is 32 random bytes; only its hash is kept, so nobody can read it off the database. Whatever is wrong
with one (unknown, revoked, expired, its player deleted) is answered in the same words.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import hmac
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, BinaryIO
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk import convert
from pacewright.app.desk.context import Context
from pacewright.app.desk.practice import active_plan
from pacewright.app.desk.putts import NewPutt, insert_putts
from pacewright.app.desk.views import PlanView, RecordingView, ShareView
from pacewright.core.display import Units
from pacewright.core.errors import ForbiddenError, LimitError, NotFoundError, SettingsError
from pacewright.records.ids import new_id
from pacewright.records.schema import DrillResult, Plan, Player, Putt, Session, ShareToken
from pacewright.records.schema.base import now

if TYPE_CHECKING:
    from pacewright.app.desk.practice_results import PageResults, Received

LIVES_FOR = dt.timedelta(days=120)
LONGEST_LIFE = dt.timedelta(days=400)


@dataclass(frozen=True, slots=True)
class NewDrillResult:
    """One go at a drill on the player's page."""

    client_id: str
    drill: str
    done_at: dt.datetime
    score: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PracticeDay:
    """What the player's page collected on one day. ``client_id`` is the page's own name for the day; every
    putt has one too (`NewPutt.client_id`, needed here), so that sending it again and again puts it in
    once."""

    client_id: str
    held_on: dt.date
    putts: tuple[NewPutt, ...] = ()
    drills: tuple[NewDrillResult, ...] = ()
    comfort: tuple[tuple[str, float, float | None], ...] = ()
    note: str = ""
    kind: str = "practice"


@dataclass(frozen=True, slots=True)
class Synced:
    """What is safe now: the page may forget these. ``added`` were new, the others there already."""

    session_id: UUID
    putts: tuple[str, ...]
    drills: tuple[str, ...]
    added: int


@dataclass(frozen=True, slots=True)
class Opened:
    """What a token opens: the player's first name, units and language, and the plan."""

    token_id: UUID
    player_id: UUID
    player_name: str
    units: Units
    language: str
    left_handed: bool
    plan: PlanView | None
    may_send_clips: bool


class Sharing:
    """Links for players."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def create(
        self,
        player_id: UUID,
        *,
        plan_id: UUID | None = None,
        label: str = "",
        lives_for: dt.timedelta = LIVES_FOR,
    ) -> tuple[ShareView, str]:
        """A link for a player, to one plan or (None) to whichever is active. Returns it and the token, which
        is shown this once."""
        if not dt.timedelta(0) < lives_for <= LONGEST_LIFE:
            raise SettingsError(f"A link lives for at most {LONGEST_LIFE.days} days.")
        token = secrets.token_urlsafe(32)
        with self._context.write() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            if (
                plan_id is not None
                and self._context.get(transaction, Plan, plan_id, "plan").player_id != player_id
            ):
                raise NotFoundError("There is no such plan of this player.")
            row = ShareToken(
                player_id=player_id, plan_id=plan_id, token_hash=hash_token(token), label=label[:120],
                expires_at=now() + lives_for,
            )  # fmt: skip
            transaction.add(row)
            transaction.flush()
            self._context.log(transaction, "create", "share", row.id, player_id)
            return convert.share(row), token

    def of_player(self, player_id: UUID) -> tuple[ShareView, ...]:
        """A player's links, newest first."""
        with self._context.read() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            statement = (
                select(ShareToken).where(ShareToken.player_id == player_id).order_by(ShareToken.id.desc())
            )
            return tuple(convert.share(row) for row in transaction.scalars(statement))

    def revoke(self, share_id: UUID) -> ShareView:
        """End a link now; doing it twice changes nothing."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, ShareToken, share_id, "link")
            if row.revoked_at is None:
                row.revoked_at = now()
                self._context.log(transaction, "revoke", "share", row.id, row.player_id)
            return convert.share(row)

    def open(self, token: str) -> Opened:
        """What a token opens. Raises ForbiddenError, always in the same words."""
        with self._context.read() as transaction:
            row, player = _check(transaction, token)
            if row.plan_id is not None:
                plan = transaction.get(Plan, row.plan_id)
                plan = None if plan is None or plan.deleted_step is not None else plan
            else:
                plan = active_plan(transaction, player.id)
            from pacewright.app.desk.consents import missing_consents

            view = convert.player(player)
            return Opened(
                row.id, player.id, player.name, view.units, player.language, player.left_handed,
                None if plan is None else convert.plan(plan),
                not missing_consents(transaction, player, "clip_review"),
            )  # fmt: skip

    def sync(self, token: str, day: PracticeDay) -> Synced:
        """Take in a day of practice: all of it in one transaction, each putt once however often it comes.

        Raises ForbiddenError for a token that does not hold, SettingsError for figures that make no sense.
        """
        return take_in(self._context, token, day)

    def receive(self, sender: str | UUID, results: PageResults) -> Received:
        """Take in what a player's page sends: run by run, each putt once however often it comes.

        ``sender`` is the token of a link, or the player whose results somebody brings to the desk as a file.
        Raises ForbiddenError for a token that does not hold or a plan of another player.
        """
        from pacewright.app.desk.practice_results import receive_results

        return receive_results(self._context, sender, results)

    def send_clip(
        self, token: str, day_client_id: str, held_on: dt.date, name: str, stream: BinaryIO
    ) -> RecordingView:
        """Take in a clip for review, with the consents to recording and to sending clips.

        Raises ForbiddenError, ConsentError, LimitError (too large, too many today), FileKindError (no clip).
        """
        from pacewright.app.desk.receiving import receive_clip

        return receive_clip(self._context, token, day_client_id, held_on, name, stream)


def hash_token(token: str) -> str:
    """What is kept of a token. Its 256 random bits need no salt and no slow hash."""
    return hashlib.sha256(token.encode()).hexdigest()


def take_in(context: Context, sender: str | UUID, day: PracticeDay) -> Synced:
    """As `Sharing.sync`; ``sender`` is a token, or the player whose results somebody at the desk brings."""
    _check_day(day)
    with context.database.write() as transaction:
        player, plan_id = whose(context, transaction, sender)
        session = session_of_day(transaction, player, day)
        names = [str(putt.client_id) for putt in day.putts]
        there = set(
            transaction.scalars(
                select(Putt.client_id).where(Putt.player_id == player.id, Putt.client_id.in_(names))
            )
        )
        insert_putts(transaction, session, day.putts)
        new_drills = _insert_drills(transaction, session, plan_id, day.drills)
        _note_comfort(transaction, session, day.comfort)
        added = len(set(names) - there) + new_drills
        if added:
            session.is_unread = True
        context.log(transaction, "sync", "session", session.id, player.id, added=added)
        return Synced(session.id, tuple(names), tuple(drill.client_id for drill in day.drills), added)


def whose(context: Context, transaction: Transaction, sender: str | UUID) -> tuple[Player, UUID | None]:
    """The player of a token, whose link is marked as used, and its plan; or the player named at the desk."""
    if isinstance(sender, UUID):
        context.must_be("coach", "assistant")
        return context.get(transaction, Player, sender, "player"), None
    row, player = _check(transaction, sender)
    row.last_used_at = now()
    return player, row.plan_id


def check_token(transaction: Transaction, token: str) -> tuple[ShareToken, Player]:
    """The link and the player of a token that holds. Raises ForbiddenError."""
    return _check(transaction, token)


def _check(transaction: Transaction, token: str) -> tuple[ShareToken, Player]:
    wanted = hash_token(token[:200])
    row = transaction.scalar(select(ShareToken).where(ShareToken.token_hash == wanted))
    player = None if row is None else transaction.get(Player, row.player_id)
    # The look-up is by hash, so its time says nothing of the token; the comparison guards against a look-up
    # that takes more for equal than it should.
    holds = (
        row is not None
        and player is not None
        and hmac.compare_digest(row.token_hash, wanted)
        and row.revoked_at is None
        and row.expires_at > now()
        and player.deleted_step is None
    )
    if not holds or row is None or player is None:
        raise ForbiddenError("This link does not hold (any more); ask your coach for a new one.")
    return row, player


def _check_day(day: PracticeDay) -> None:
    names = [
        day.client_id,
        *(putt.client_id for putt in day.putts),
        *(drill.client_id for drill in day.drills),
    ]
    if any(not name or len(name) > 80 for name in names):
        raise SettingsError("Every day, putt and drill that is sent needs a client_id of 1 to 80 characters.")
    if any(putt.stroke_id is not None for putt in day.putts):
        raise SettingsError("A putt from a player's page names no stroke.")
    for moment in [putt.played_at for putt in day.putts] + [drill.done_at for drill in day.drills]:
        if moment is not None and (moment.tzinfo is None or moment > now() + dt.timedelta(days=2)):
            raise SettingsError("A time that is sent says its zone and does not lie in the future.")
    if not dt.date(2000, 1, 1) <= day.held_on <= dt.date.today() + dt.timedelta(days=2):
        raise SettingsError(f"{day.held_on} is no day of practice.")
    if day.kind not in ("practice", "first test", "retention test"):
        raise SettingsError(f"'{day.kind}' is no kind of practice.")


def session_of_day(transaction: Transaction, player: Player, day: PracticeDay) -> Session:
    """The session of that client id, made if it is not there yet. Two that come at once make one."""
    dialect = postgresql if transaction.get_bind().dialect.name == "postgresql" else sqlite
    values = {
        "id": new_id(), "created_at": now(), "version": 1, "player_id": player.id, "client_id": day.client_id,
        "held_on": day.held_on, "origin": "player", "kind": day.kind, "note": day.note[:2000], "place": "",
        "turn": 0, "is_unread": True, "ended_at": now(), "green_slope_rad": 0.0, "green_cross_slope_rad": 0.0,
    }  # fmt: skip
    transaction.execute(
        dialect.insert(Session)
        .values(**values)
        .on_conflict_do_nothing(index_elements=["player_id", "client_id"])
    )
    session = transaction.scalar(
        select(Session)
        .where(Session.player_id == player.id, Session.client_id == day.client_id)
        .with_for_update()
    )
    assert session is not None
    return session


def _insert_drills(
    transaction: Transaction, session: Session, plan_id: UUID | None, drills: Sequence[NewDrillResult]
) -> int:
    if not drills:
        return 0
    if len(drills) > 500:
        raise LimitError("At most 500 goes at drills at once.")
    dialect = postgresql if transaction.get_bind().dialect.name == "postgresql" else sqlite
    rows: list[dict[str, Any]] = [
        {
            "id": new_id(), "created_at": now(), "player_id": session.player_id, "session_id": session.id,
            "plan_id": plan_id, "client_id": drill.client_id, "drill": drill.drill[:80],
            "done_at": drill.done_at,
            "score": dict(drill.score), "notes": [],
        }
        for drill in drills
    ]  # fmt: skip
    added = transaction.scalars(
        dialect.insert(DrillResult)
        .values(rows)
        .on_conflict_do_nothing(index_elements=["player_id", "client_id"])
        .returning(DrillResult.id)
    ).all()
    return len(added)


def _note_comfort(
    transaction: Transaction, session: Session, marks: Sequence[tuple[str, float, float | None]]
) -> None:
    from pacewright.records.schema import TempoBlock

    for block, beats, comfort in marks[:50]:
        if not 20.0 <= beats <= 240.0 or (comfort is not None and not 1.0 <= comfort <= 5.0):
            raise SettingsError(
                "A block has a beat of 20 to 240 a minute, and comfort is marked from 1 to 5."
            )
        row = transaction.scalar(
            select(TempoBlock).where(TempoBlock.session_id == session.id, TempoBlock.block == block)
        )
        if row is None:
            row = TempoBlock(player_id=session.player_id, session_id=session.id, block=block[:60])
            transaction.add(row)
        row.beats_per_minute, row.comfort = beats, comfort
