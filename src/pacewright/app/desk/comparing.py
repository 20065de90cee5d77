"""Strokes as lines of a list, and which of them may stand beside another on the review page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk.consents import missing_of_each
from pacewright.app.desk.context import Context, alive
from pacewright.app.desk.views import StrokeLine
from pacewright.records.schema import Player, Recording, Session, Stroke

MOST_OF_A_SESSION = 500
EARLIER = 12
"""Strokes of the player's other sessions that are offered, from the newest ``RECENT_STROKES``."""
RECENT_STROKES = 60
MOST_PLAYERS = 60
NEWEST_OF_OTHERS = 3


@dataclass(frozen=True, slots=True)
class Neighbours:
    """A stroke among the current ones of its session, and what it can be compared with.

    ``others`` are strokes of players who, like the stroke's own, agreed to be shown beside others; empty
    unless the desk is set to offer them.
    """

    line: StrokeLine
    session: tuple[StrokeLine, ...]
    earlier: tuple[StrokeLine, ...]
    others: tuple[StrokeLine, ...]


def neighbours(context: Context, stroke_id: UUID, *, with_others: bool) -> Neighbours:
    """Everything around a stroke: a fixed number of queries. Raises NotFoundError."""
    with context.read() as transaction:
        stroke = context.get(transaction, Stroke, stroke_id, "stroke")
        (line,) = _lines(transaction, _select_lines().where(Stroke.id == stroke_id))
        current = _select_lines().where(Stroke.is_current, alive(Stroke))
        session = current.where(Stroke.session_id == stroke.session_id)
        earlier = _lines(transaction, _select_lines().where(Stroke.id.in_(_recent(transaction, stroke))))
        earlier = tuple(sorted(earlier, key=lambda one: one.id, reverse=True))
        return Neighbours(
            line,
            _lines(transaction, session.order_by(Stroke.id).limit(MOST_OF_A_SESSION)),
            tuple(one for one in earlier if one.session_id != stroke.session_id)[:EARLIER],
            _of_others(transaction, stroke.player_id) if with_others else (),
        )


def _recent(transaction: Transaction, stroke: Stroke) -> list[UUID]:
    """The player's newest strokes. Asked for together with what they are joined to, PostgreSQL would join all
    strokes of the player, by reading every session and recording, to keep the newest of them."""
    newest = (
        select(Stroke.id)
        .where(Stroke.player_id == stroke.player_id, Stroke.is_current, alive(Stroke))
        .order_by(Stroke.id.desc())
        .limit(RECENT_STROKES)
    )
    return list(transaction.scalars(newest))


def line_of(context: Context, stroke_id: UUID) -> StrokeLine:
    """Whose stroke that is, of which day. Raises NotFoundError."""
    with context.read() as transaction:
        context.get(transaction, Stroke, stroke_id, "stroke")
        return _lines(transaction, _select_lines().where(Stroke.id == stroke_id))[0]


def _select_lines() -> Any:
    """Without the figures: reading those of hundreds of strokes takes longer than all the rest of a page."""
    return (
        select(
            Stroke.id, Stroke.player_id, Stroke.session_id, Stroke.number, Session.held_on,
            Player.name.label("player_name"), Recording.kind.label("recording_kind"),
        )
        .join(Session, Session.id == Stroke.session_id)
        .join(Player, Player.id == Stroke.player_id)
        .join(Recording, Recording.id == Stroke.recording_id)
    )  # fmt: skip


def _lines(transaction: Transaction, statement: Any) -> tuple[StrokeLine, ...]:
    return tuple(StrokeLine(*row) for row in transaction.execute(statement))


def _of_others(transaction: Transaction, player_id: UUID) -> tuple[StrokeLine, ...]:
    """The newest strokes of the first players by name who agreed to it, as the stroke's own player did."""
    own = transaction.get(Player, player_id)
    first = select(Player).where(alive(Player)).order_by(Player.sort_name, Player.id).limit(MOST_PLAYERS)
    players = list(transaction.scalars(first))
    missing = missing_of_each(transaction, [*players, *([own] if own is not None else [])], "sharing")
    if missing.get(player_id):
        return ()
    shown = [one.id for one in players if one.id != player_id and not missing[one.id]]
    newest = _newest_strokes(transaction, shown)
    lines = {one.id: one for one in _lines(transaction, _select_lines().where(Stroke.id.in_(newest)))}
    return tuple(lines[one] for one in newest)


def _newest_strokes(transaction: Transaction, player_ids: Sequence[UUID]) -> list[UUID]:
    """A few looks into an index for each player: reading all their strokes would not scale."""
    of_player = (
        select(Stroke.id)
        .where(Stroke.player_id == Player.id, Stroke.is_current, alive(Stroke))
        .order_by(Stroke.id.desc())
        .limit(1)
    )
    places = [of_player.offset(place).scalar_subquery() for place in range(NEWEST_OF_OTHERS)]
    statement = select(*places).where(Player.id.in_(player_ids)).order_by(Player.sort_name, Player.id)
    return [one for row in transaction.execute(statement) for one in row if one is not None]
