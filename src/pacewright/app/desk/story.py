"""What a coach sees at a glance: today, and a player's story. The figures are kept until the putts change."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping
from typing import Any
from uuid import UUID

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk import convert
from pacewright.app.desk.analysis import pacewright_version
from pacewright.app.desk.consents import missing_consents
from pacewright.app.desk.context import Context, alive
from pacewright.app.desk.jobs import FIGURES, OPEN, jobs_in, queue_once
from pacewright.app.desk.players import player_lines
from pacewright.app.desk.practice import active_plan
from pacewright.app.desk.putts import core_putts, session_label
from pacewright.app.desk.sessions import lists_of_sessions, select_sessions, session_views
from pacewright.app.desk.story_views import SpreadOnDay, StoryView, TodayView, Told
from pacewright.app.desk.strokes import find_findings
from pacewright.app.desk.telling import story_figures
from pacewright.records.schema import Digest, Plan, Player, Putt, Putter, Session, Stroke
from pacewright.records.schema.base import now

MOST_PUTTS = 1500
"""Putts, counted from the newest, that the figures of a story rest on."""
RECENT = 12
MOST_JOBS = 50
TROUBLED = ("failed", "stuck")


class Story:
    """Today, and the story of a player."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def today(self) -> TodayView:
        """What is open, what came in, what went wrong, and who is due: a fixed number of queries."""
        self._context.must_be("coach", "assistant")
        week_ago = now() - dt.timedelta(days=7)
        with self._context.read() as transaction:
            base = select_sessions().order_by(Session.held_on.desc(), Session.id.desc()).limit(RECENT)
            begun, unread, recent = lists_of_sessions(
                transaction, base.where(Session.ended_at.is_(None)), base.where(Session.is_unread), base
            )
            return TodayView(
                open_sessions=tuple(begun),
                unread=tuple(unread),
                open_jobs=tuple(
                    convert.job(row) for row in jobs_in(transaction, OPEN, limit=MOST_JOBS, newest_first=True)
                ),
                troubled_jobs=tuple(
                    convert.job(row)
                    for row in jobs_in(
                        transaction, TROUBLED, limit=MOST_JOBS, newest_first=True, ended_after=week_ago
                    )
                ),
                due=tuple(_due(transaction)),
                recent=tuple(recent),
            )

    def of_player(self, player_id: UUID, *, wait: bool = True) -> StoryView:
        """A player at a glance. Raises NotFoundError.

        Figures over hundreds of putts take a second or so. With ``wait`` False the story never waits for
        them:
        it shows those of before the last change (`is_fresh` says so) and has a worker work them out.
        """
        with self._context.read() as transaction:
            player = self._context.get(transaction, Player, player_id, "player")
            kept = transaction.get(Digest, (player_id, "story"))
        is_fresh = kept is not None and _holds(kept, player)
        if wait or (kept is not None and is_fresh):
            figures, is_fresh = self.figures(player_id), True
        else:
            figures = _NOTHING_YET if kept is None else kept.body
            with self._context.database.write() as transaction:
                queue_once(transaction, FIGURES, player_id)
        with self._context.read() as transaction:
            plan = active_plan(transaction, player_id)
            putter = transaction.scalar(
                select(Putter)
                .where(Putter.player_id == player_id, alive(Putter))
                .order_by(Putter.id.desc())
                .limit(1)
            )
            sessions = select_sessions().where(Session.player_id == player_id)
            sessions = sessions.order_by(Session.held_on.desc(), Session.id.desc()).limit(RECENT)
            return StoryView(
                player=convert.player(player, missing_consents(transaction, player, "recording")),
                budget=_told(figures["budget"]),
                tempo=_told(figures["tempo"]),
                progress=_told(figures["progress"]),
                days=tuple(_day(day) for day in figures["days"]),
                plan=None if plan is None else convert.plan(plan),
                putter=None if putter is None else convert.putter(putter),
                sessions=tuple(session_views(transaction, sessions)),
                findings=tuple(find_findings(transaction, player_id=player_id, limit=RECENT)),
                putts=_count(transaction, Putt, Putt.player_id == player_id),
                strokes=_count(transaction, Stroke, (Stroke.player_id == player_id) & Stroke.is_current),
                is_fresh=is_fresh,
            )

    def figures(self, player_id: UUID) -> Mapping[str, Any]:
        """Budget, tempo, progress and the run of days of a player, from what was kept if it still holds.

        A dict with ``budget``, ``tempo``, ``progress`` (each as `Told` in words of JSON) and ``days``.
        """
        return self.kept(player_id, "story", lambda: self._work_out(player_id))

    def kept(self, player_id: UUID, kind: str, work_out: Callable[[], dict[str, Any]]) -> Mapping[str, Any]:
        """What follows from a player's putts and strokes, in words of JSON: worked out once, and kept under
        ``kind`` until they change. Raises NotFoundError."""
        with self._context.read() as transaction:
            player = self._context.get(transaction, Player, player_id, "player")
            kept = transaction.get(Digest, (player_id, kind))
            version = player.figures_version
            if kept is not None and _holds(kept, player):
                return kept.body
        body = work_out()
        self._keep(player_id, kind, version, body)
        return body

    def _work_out(self, player_id: UUID) -> dict[str, Any]:
        with self._context.read() as transaction:
            putts = core_putts(transaction, player_id, most=MOST_PUTTS)
            sessions = _sessions_by_label(transaction, player_id)
        return story_figures(putts, sessions)

    def _keep(self, player_id: UUID, kind: str, version: int, body: dict[str, Any]) -> None:
        with self._context.database.write() as transaction:
            player = transaction.get(Player, player_id)
            if player is None or player.deleted_step is not None:
                return
            row = transaction.get(Digest, (player_id, kind), with_for_update=True)
            if row is None:
                row = Digest(player_id=player_id, kind=kind)
                transaction.add(row)
            elif row.figures_version > version:
                return
            row.figures_version, row.pacewright_version, row.body = version, pacewright_version(), body
            if kind != "story":
                # Of what can be drawn again nothing is kept longer than it holds; the story is shown until
                # its next figures are there.
                old = Digest.figures_version < version
                transaction.execute(
                    delete(Digest).where(Digest.player_id == player_id, Digest.kind != "story", old)
                )


_WAITING: dict[str, Any] = {
    "body": None,
    "statement": "The figures are being worked out.",
    "explanation": [],
    "rows": {},
}
_NOTHING_YET: dict[str, Any] = {"budget": _WAITING, "tempo": _WAITING, "progress": _WAITING, "days": []}


def _holds(kept: Digest, player: Player) -> bool:
    """Whether kept figures are those of the player's putts as they are now."""
    wanted = (player.figures_version, pacewright_version())
    return (kept.figures_version, kept.pacewright_version) == wanted


def _due(transaction: Transaction) -> list[Any]:
    """Players with an active plan, those not seen for longest first."""
    # One look into an index for each player: reading every session to find the last would not scale.
    last = (
        select(Session.held_on)
        .where(Session.player_id == Player.id, alive(Session))
        .order_by(Session.held_on.desc(), Session.id.desc())
        .limit(1)
        .scalar_subquery()
    )
    practising = select(Plan.player_id).where(Plan.is_active, alive(Plan))
    # Sorted by their ids alone: whole rows would be carried along for every player of the club.
    first = (
        select(Player.id)
        .where(alive(Player), Player.id.in_(practising))
        .order_by(last.asc().nulls_first(), Player.id)
        .limit(RECENT)
    )
    found = list(transaction.scalars(first))
    players = {row.id: row for row in transaction.scalars(select(Player).where(Player.id.in_(found)))}
    return player_lines(transaction, [players[one] for one in found])


def _count(transaction: Transaction, table: Any, where: Any) -> int:
    return transaction.scalar(select(func.count()).select_from(table).where(where, alive(table))) or 0


def _sessions_by_label(transaction: Transaction, player_id: UUID) -> dict[str, tuple[str, str]]:
    """Id and day of each session by the label that `core_putts` gives it."""
    rows = transaction.execute(
        select(Session.id, Session.held_on).where(Session.player_id == player_id, alive(Session))
    )
    return {
        session_label(held_on, identifier): (str(identifier), held_on.isoformat())
        for identifier, held_on in rows
    }


def _told(body: Mapping[str, Any]) -> Told:
    return Told(
        body["body"], body["statement"], tuple(body["explanation"]),
        {units: tuple(tuple(row) for row in rows) for units, rows in body["rows"].items()},
    )  # fmt: skip


def _day(body: Mapping[str, Any]) -> SpreadOnDay:
    def number(value: float | None) -> float:
        return math.nan if value is None else value

    return SpreadOnDay(
        UUID(body["session_id"]), dt.date.fromisoformat(body["held_on"]), body["putts"],
        number(body["spread_share"]), number(body["bias_share"]),
    )  # fmt: skip
