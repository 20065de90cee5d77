"""Sessions: one player's, or a group that takes turns."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any
from uuid import UUID

from sqlalchemy import func, literal, select, union_all
from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk import convert
from pacewright.app.desk.context import Context, alive, page, page_of
from pacewright.app.desk.views import Page, SessionView, UndoView
from pacewright.core.errors import SettingsError
from pacewright.records import undo
from pacewright.records.ids import new_id
from pacewright.records.schema import Green, Job, Player, Putt, Putter, Recording, Session, Stroke
from pacewright.records.schema.base import now

KINDS = ("lesson", "practice", "first test", "retention test")
MOST_IN_A_GROUP = 24


class Sessions:
    """The sessions of players."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def create(
        self,
        player_id: UUID,
        *,
        held_on: dt.date | None = None,
        putter_id: UUID | None = None,
        green_id: UUID | None = None,
        place: str = "",
        note: str = "",
        kind: str = "lesson",
    ) -> SessionView:
        """Begin a session; ``held_on`` None is today. The green's speed is kept as it is now.

        Raises SettingsError for an unknown kind, NotFoundError for what is not there.
        """
        return self._create([player_id], None, held_on, putter_id, green_id, place, note, kind)[0]

    def create_group(
        self,
        player_ids: Sequence[UUID],
        *,
        held_on: dt.date | None = None,
        green_id: UUID | None = None,
        place: str = "",
        note: str = "",
        kind: str = "lesson",
    ) -> tuple[SessionView, ...]:
        """Begin a session for each of several players who take turns, in that order."""
        if not 2 <= len(set(player_ids)) <= MOST_IN_A_GROUP or len(set(player_ids)) != len(player_ids):
            raise SettingsError(f"A group has 2 to {MOST_IN_A_GROUP} players, each once.")
        return self._create(player_ids, new_id(), held_on, None, green_id, place, note, kind)

    def get(self, session_id: UUID) -> SessionView:
        """A session with its counts. Raises NotFoundError."""
        with self._context.read() as transaction:
            self._context.get(transaction, Session, session_id, "session")
            return session_views(transaction, select_sessions().where(Session.id == session_id))[0]

    def of_group(self, group_id: UUID) -> tuple[SessionView, ...]:
        """The sessions of a group in the order of turns."""
        self._context.must_be("coach", "assistant")
        with self._context.read() as transaction:
            statement = select_sessions().where(Session.group_id == group_id).order_by(Session.turn)
            return tuple(session_views(transaction, statement))

    def list(
        self,
        *,
        player_id: UUID | None = None,
        unread: bool = False,
        after: str | None = None,
        limit: int = 50,
    ) -> Page[SessionView]:
        """Sessions, newest first: of one player, or of all; ``unread`` only those nobody has looked at."""
        statement = select_sessions()
        if player_id is not None or self._context.actor.role == "player":
            statement = statement.where(Session.player_id == (player_id or self._context.actor.player_id))
        if unread:
            statement = statement.where(Session.is_unread)
        with self._context.read() as transaction:
            if player_id is not None:
                self._context.get(transaction, Player, player_id, "player")
            rows, cursor = page_of(
                transaction, statement, (Session.held_on, Session.id), after=after, limit=limit,
                descending=True, key_of=lambda row: (row[0].held_on, row[0].id),
            )  # fmt: skip
            return page(_with_counts(transaction, rows), cursor)

    def update(self, session_id: UUID, version: int | None, **changes: Any) -> SessionView:
        """Change place, note, kind, held_on, putter_id, green_id or turn; see `Players.update`."""
        _check(changes)
        with self._context.write() as transaction:
            row = self._context.get(transaction, Session, session_id, "session")
            if changes.get("putter_id") is not None:
                _putter_of(self._context, transaction, changes["putter_id"], row.player_id)
            if "green_id" in changes:
                changes |= _green_values(self._context, transaction, changes["green_id"])
            self._context.change(transaction, Session, session_id, version, changes)
            self._context.figures_changed(transaction, row.player_id)
            self._context.log(
                transaction, "update", "session", session_id, row.player_id, fields=sorted(changes)
            )
            return session_views(transaction, select_sessions().where(Session.id == session_id))[0]

    def end(self, session_id: UUID) -> SessionView:
        """End a session; doing it twice changes nothing."""
        return self._set(session_id, "end", ended_at=now())

    def reopen(self, session_id: UUID) -> SessionView:
        """Go on with a session that was ended."""
        return self._set(session_id, "reopen", ended_at=None)

    def mark_read(self, session_id: UUID) -> SessionView:
        """Take the unread mark off practice that came from the player's page."""
        return self._set(session_id, "read", is_unread=False)

    def delete(self, session_id: UUID) -> UndoView:
        """Delete a session with its recordings, strokes and putts, in one step that can be taken back."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, Session, session_id, "session")
            step, rows = undo.delete(transaction, row, self._context.actor.name)
            self._context.figures_changed(transaction, row.player_id)
            self._context.log(transaction, "delete", "session", session_id, row.player_id, rows=rows)
            return convert.undo_step(step, rows)

    def _create(
        self, player_ids: Sequence[UUID], group_id: UUID | None, held_on: dt.date | None,
        putter_id: UUID | None, green_id: UUID | None, place: str, note: str, kind: str,
    ) -> tuple[SessionView, ...]:  # fmt: skip
        _check({"place": place, "note": note, "kind": kind})
        with self._context.write() as transaction:
            green = _green_values(self._context, transaction, green_id)
            ids = []
            for turn, player_id in enumerate(player_ids):
                self._context.get(transaction, Player, player_id, "player")
                if putter_id is not None:
                    _putter_of(self._context, transaction, putter_id, player_id)
                row = Session(
                    player_id=player_id, putter_id=putter_id, held_on=held_on or dt.date.today(), place=place,
                    note=note, kind=kind, group_id=group_id, turn=turn, **green,
                )  # fmt: skip
                transaction.add(row)
                transaction.flush()
                self._context.log(transaction, "create", "session", row.id, player_id)
                ids.append(row.id)
            statement = select_sessions().where(Session.id.in_(ids)).order_by(Session.turn)
            return tuple(session_views(transaction, statement))

    def _set(self, session_id: UUID, action: str, **values: Any) -> SessionView:
        with self._context.write() as transaction:
            row = self._context.get(transaction, Session, session_id, "session")
            self._context.change(transaction, Session, session_id, None, values)
            self._context.log(transaction, action, "session", session_id, row.player_id)
            return session_views(transaction, select_sessions().where(Session.id == session_id))[0]


def select_sessions() -> Any:
    """Sessions with the names of player and green."""
    return (
        select(Session, Player.name, Green.name)
        .join(Player, Player.id == Session.player_id)
        .outerjoin(Green, Green.id == Session.green_id)
        .where(alive(Session))
    )


def session_views(transaction: Transaction, statement: Any) -> list[SessionView]:
    """Sessions that `select_sessions` found, with their counts: two queries however many they are."""
    return _with_counts(transaction, transaction.execute(statement).all())


def lists_of_sessions(transaction: Transaction, *statements: Any) -> list[list[SessionView]]:
    """As `session_views` for several lists at once: one query more than there are lists."""
    lists = [transaction.execute(statement).all() for statement in statements]
    views = iter(_with_counts(transaction, [row for rows in lists for row in rows]))
    return [[next(views) for _ in rows] for rows in lists]


def _with_counts(transaction: Transaction, rows: Sequence[Any]) -> list[SessionView]:
    if not rows:
        return []
    counts: dict[UUID, dict[str, int]] = {row[0].id: {} for row in rows}
    parts = []
    for name, table, where in (
        ("recordings", Recording, (alive(Recording),)),
        ("strokes", Stroke, (Stroke.is_current, alive(Stroke))),
        ("putts", Putt, (alive(Putt),)),
        ("open_jobs", Job, (Job.state.in_(("queued", "running")),)),
    ):
        owner = table.__table__.columns["session_id"]
        part = select(literal(name).label("name"), owner.label("session_id"), func.count().label("count"))
        parts.append(part.where(owner.in_(list(counts)), *where).group_by(owner))
    for name, identifier, count in transaction.execute(union_all(*parts)):
        counts[identifier][name] = count
    return [convert.session(row[0], row[1], row[2], counts[row[0].id]) for row in rows]


def _green_values(context: Context, transaction: Transaction, green_id: UUID | None) -> dict[str, Any]:
    """The green of a session as it is now."""
    if green_id is None:
        return {
            "green_id": None, "green_speed_m": None, "green_slope_rad": 0.0, "green_cross_slope_rad": 0.0,
        }  # fmt: skip
    green = context.get(transaction, Green, green_id, "green")
    return {
        "green_id": green.id, "green_speed_m": green.speed_m, "green_slope_rad": green.slope_rad,
        "green_cross_slope_rad": green.cross_slope_rad,
    }  # fmt: skip


def _putter_of(context: Context, transaction: Transaction, putter_id: UUID, player_id: UUID) -> None:
    if context.get(transaction, Putter, putter_id, "putter").player_id != player_id:
        raise SettingsError("That putter belongs to another player.")


def _check(values: dict[str, Any]) -> None:
    allowed = {"place", "note", "kind", "held_on", "putter_id", "green_id", "turn"}
    unknown = set(values) - allowed
    if unknown:
        raise SettingsError(f"{', '.join(sorted(unknown))} of a session cannot be changed.")
    if values.get("kind", KINDS[0]) not in KINDS:
        raise SettingsError(f"'{values['kind']}' is none of {', '.join(KINDS)}.")
    if len(values.get("place", "")) > 200 or len(values.get("note", "")) > 20_000:
        raise SettingsError("A place has at most 200 characters, a note 20,000.")
