"""Stations and plans of players, made from what is stored and kept as they were made."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy import select, update
from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk import convert
from pacewright.app.desk.context import Context, alive, page, page_of
from pacewright.app.desk.strokes import core_strokes
from pacewright.app.desk.views import DrillResultView, Page, PlanView, StationView, UndoView
from pacewright.app.stations import DISTANCE_TOLERANCE_SHARE, build_station, station_dict
from pacewright.core.equipment import Putter as CorePutter
from pacewright.core.errors import SettingsError
from pacewright.core.green import Green as CoreGreen
from pacewright.core.station import Station as CoreStation
from pacewright.records import undo
from pacewright.records.schema import DrillResult, Green, Plan, Player, Putter, Session, Station

MOST_LENGTHS = 24


@dataclass(frozen=True, slots=True)
class StationRequest:
    """What a station is made from. Without ``putter_id`` the usual putter; ``own`` takes the player's own
    constant from its strokes."""

    lengths_m: tuple[float, ...]
    green_id: UUID
    beats_per_minute: float = 90.0
    putter_id: UUID | None = None
    distance_tolerance_share: float = DISTANCE_TOLERANCE_SHARE
    beyond_m: float = 0.0
    own: bool = True

    def body(self) -> dict[str, Any]:
        """As it is kept."""
        return {
            "lengths_m": list(self.lengths_m), "green_id": str(self.green_id),
            "beats_per_minute": self.beats_per_minute,
            "putter_id": None if self.putter_id is None else str(self.putter_id),
            "distance_tolerance_share": self.distance_tolerance_share, "beyond_m": self.beyond_m,
            "own": self.own,
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class PlanRequest:
    """What a plan is made from; see `app.plans.PlanOptions`. ``beats_per_minute`` None takes what the
    player's blocks of beats say, else 90."""

    lengths_m: tuple[float, ...]
    start: dt.date
    weekdays: tuple[str, ...] = ("mon", "thu")
    weeks: int = 4
    sessions: int = 0
    minutes: int = 40
    test_putts: int = 30
    beats_per_minute: float | None = None
    green_id: UUID | None = None

    def body(self) -> dict[str, Any]:
        """As it is kept."""
        return {
            "lengths_m": list(self.lengths_m), "start": self.start.isoformat(),
            "weekdays": list(self.weekdays), "weeks": self.weeks, "sessions": self.sessions,
            "minutes": self.minutes,
            "test_putts": self.test_putts, "beats_per_minute": self.beats_per_minute,
            "green_id": None if self.green_id is None else str(self.green_id),
        }  # fmt: skip


class Stations:
    """Practice stations."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def preview(self, player_id: UUID | None, request: StationRequest) -> CoreStation:
        """The station, not kept: for dragging a length or the beat. The player's strokes are looked up once
        and kept in mind until they change. Raises as `build_station` does."""
        with self._context.read() as transaction:
            return self._build(transaction, player_id, request)

    def keep(
        self, player_id: UUID, request: StationRequest, *, session_id: UUID | None = None
    ) -> StationView:
        """Make a station and keep it."""
        with self._context.write() as transaction:
            if session_id is not None:
                self._context.get(transaction, Session, session_id, "session")
            station = self._build(transaction, player_id, request)
            row = Station(
                player_id=player_id, session_id=session_id, request=request.body(), body=station_dict(station)
            )
            transaction.add(row)
            transaction.flush()
            self._context.log(transaction, "create", "station", row.id, player_id)
            return convert.station(row)

    def get(self, station_id: UUID) -> StationView:
        """A kept station. Raises NotFoundError."""
        with self._context.read() as transaction:
            return convert.station(self._context.get(transaction, Station, station_id, "station"))

    def of_player(self, player_id: UUID, *, after: str | None = None, limit: int = 20) -> Page[StationView]:
        """A player's stations, newest first."""
        with self._context.read() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            rows, cursor = page_of(
                transaction, select(Station).where(Station.player_id == player_id, alive(Station)),
                (Station.id,), after=after, limit=limit, descending=True, key_of=lambda row: (row[0].id,),
            )  # fmt: skip
            return page([convert.station(row[0]) for row in rows], cursor)

    def delete(self, station_id: UUID) -> UndoView:
        """Delete a station; it can be taken back."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, Station, station_id, "station")
            step, rows = undo.delete(transaction, row, self._context.actor.name)
            self._context.log(transaction, "delete", "station", station_id, row.player_id)
            return convert.undo_step(step, rows)

    def _build(
        self, transaction: Transaction, player_id: UUID | None, request: StationRequest
    ) -> CoreStation:
        if not 1 <= len(request.lengths_m) <= MOST_LENGTHS:
            raise SettingsError(f"A station has 1 to {MOST_LENGTHS} lengths.")
        green = _green(self._context, transaction, request.green_id)
        putter = CorePutter()
        if request.putter_id is not None:
            putter = convert.putter(
                self._context.get(transaction, Putter, request.putter_id, "putter")
            ).putter
        strokes: Sequence[Any] = ()
        if player_id is not None:
            player = self._context.get(transaction, Player, player_id, "player")
            if request.own:
                strokes = self._strokes(transaction, player)
        return build_station(
            request.lengths_m, green, beats_per_minute=request.beats_per_minute, putter=putter,
            strokes=strokes,
            distance_tolerance_share=request.distance_tolerance_share, beyond_m=request.beyond_m,
        )  # fmt: skip

    def _strokes(self, transaction: Transaction, player: Player) -> Sequence[Any]:
        key = ("strokes", player.id)
        kept = self._context.memory.get(key)
        if kept is None or kept[0] != player.figures_version:
            kept = (player.figures_version, core_strokes(transaction, player.id))
            self._context.memory.keep(key, kept)
        strokes: Sequence[Any] = kept[1]
        return strokes


class Plans:
    """Practice plans and the goes at their drills."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def make(self, player_id: UUID, request: PlanRequest) -> PlanView:
        """Make a plan from the player's budget, beat and strokes, and keep it as the active one.

        Raises SettingsError for days or lengths that make no sense.
        """
        from pacewright.app.desk.planning import plan_body

        with self._context.read() as transaction:
            self._context.get(transaction, Player, player_id, "player")
        body = plan_body(self._context, player_id, request)
        with self._context.write() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            transaction.execute(
                update(Plan)
                .where(Plan.player_id == player_id, Plan.is_active)
                .values(is_active=False, version=Plan.version + 1)
            )
            row = Plan(player_id=player_id, request=request.body(), body=body)
            transaction.add(row)
            transaction.flush()
            self._context.log(transaction, "create", "plan", row.id, player_id)
            return convert.plan(row)

    def get(self, plan_id: UUID) -> PlanView:
        """A plan. Raises NotFoundError."""
        with self._context.read() as transaction:
            return convert.plan(self._context.get(transaction, Plan, plan_id, "plan"))

    def active(self, player_id: UUID) -> PlanView | None:
        """The player's active plan."""
        with self._context.read() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            row = active_plan(transaction, player_id)
            return None if row is None else convert.plan(row)

    def of_player(self, player_id: UUID, *, after: str | None = None, limit: int = 20) -> Page[PlanView]:
        """A player's plans, newest first."""
        with self._context.read() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            rows, cursor = page_of(
                transaction, select(Plan).where(Plan.player_id == player_id, alive(Plan)), (Plan.id,),
                after=after, limit=limit, descending=True, key_of=lambda row: (row[0].id,),
            )  # fmt: skip
            return page([convert.plan(row[0]) for row in rows], cursor)

    def end(self, plan_id: UUID, version: int | None = None) -> PlanView:
        """End a plan: it is kept, but not the active one any more."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, Plan, plan_id, "plan")
            self._context.change(transaction, Plan, plan_id, version, {"is_active": False})
            self._context.log(transaction, "end", "plan", plan_id, row.player_id)
            return convert.plan(self._context.get(transaction, Plan, plan_id, "plan"))

    def delete(self, plan_id: UUID) -> UndoView:
        """Delete a plan; it can be taken back."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, Plan, plan_id, "plan")
            step, rows = undo.delete(transaction, row, self._context.actor.name)
            self._context.log(transaction, "delete", "plan", plan_id, row.player_id)
            return convert.undo_step(step, rows)

    def drill_results(self, player_id: UUID, drill: str | None = None) -> tuple[DrillResultView, ...]:
        """A player's goes at drills, oldest first, at most 500."""
        with self._context.read() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            statement = select(DrillResult).where(DrillResult.player_id == player_id, alive(DrillResult))
            if drill is not None:
                statement = statement.where(DrillResult.drill == drill)
            found = transaction.scalars(statement.order_by(DrillResult.done_at, DrillResult.id).limit(500))
            return tuple(convert.drill_result(row) for row in found)

    def add_drill_result(
        self, session_id: UUID, drill: str, score: Mapping[str, Any], *, plan_id: UUID | None = None
    ) -> DrillResultView:
        """Keep one go at a drill."""
        with self._context.write() as transaction:
            session = self._context.get(transaction, Session, session_id, "session")
            row = DrillResult(
                player_id=session.player_id, session_id=session_id, plan_id=plan_id, drill=drill[:80],
                done_at=dt.datetime.now(dt.UTC), score=dict(score),
            )  # fmt: skip
            transaction.add(row)
            transaction.flush()
            self._context.log(transaction, "create", "drill_result", row.id, session.player_id)
            return convert.drill_result(row)


def active_plan(transaction: Transaction, player_id: UUID) -> Plan | None:
    """The newest active plan of a player."""
    return transaction.scalar(
        select(Plan)
        .where(Plan.player_id == player_id, Plan.is_active, alive(Plan))
        .order_by(Plan.id.desc())
        .limit(1)
    )


def _green(context: Context, transaction: Transaction, green_id: UUID) -> CoreGreen:
    return convert.green(context.get(transaction, Green, green_id, "green")).green
