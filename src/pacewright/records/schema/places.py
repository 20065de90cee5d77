"""Putters, greens, and the sessions that were held on them."""

from __future__ import annotations

import datetime as dt
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import CheckConstraint, ForeignKey, Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from pacewright.records.schema.base import Deletable, Identified, Row, Versioned, of_player


class Putter(Identified, Versioned, Deletable, Row):
    """A player's putter."""

    __tablename__ = "putters"
    player_id: Mapped[UUID] = mapped_column(ForeignKey("players.id"), index=True)
    name: Mapped[str]
    head_mass_kg: Mapped[float]
    restitution: Mapped[float]
    notes: Mapped[str] = mapped_column(default="")


class Green(Identified, Versioned, Deletable, Row):
    """A green as it was measured last; `GreenReading` keeps every measuring."""

    __tablename__ = "greens"
    __table_args__ = (
        CheckConstraint("speed_m BETWEEN 0.3 AND 10.0", name="speed"),
        Index("ix_greens_name_id", "name", "id"),
    )
    name: Mapped[str]
    place: Mapped[str] = mapped_column(default="")
    speed_m: Mapped[float]
    speed_sd_m: Mapped[float | None]
    slope_rad: Mapped[float] = mapped_column(default=0.0)
    cross_slope_rad: Mapped[float] = mapped_column(default=0.0)
    measured_at: Mapped[datetime | None]
    measured_how: Mapped[str] = mapped_column(default="")
    notes: Mapped[str] = mapped_column(default="")


class GreenReading(Identified, Row):
    """One measuring of a green; ``rolls`` holds the single rolls in metres where there were any."""

    __tablename__ = "green_readings"
    __table_args__ = (Index("ix_green_readings_green_id_measured_at", "green_id", "measured_at"),)
    green_id: Mapped[UUID] = mapped_column(ForeignKey("greens.id"))
    measured_at: Mapped[datetime]
    measured_how: Mapped[str]
    speed_m: Mapped[float]
    speed_sd_m: Mapped[float | None]
    slope_rad: Mapped[float]
    rolls: Mapped[list[Any]] = mapped_column(default=list)


class Session(Identified, Versioned, Deletable, Row):
    """A session of one player; several players who take turns have a session each and a common group.

    The green's speed and slope are kept as they were that day. ``origin`` is ``desk``, or ``player`` for
    practice that came from the player's own page, unread until the coach has looked.
    """

    __tablename__ = "sessions"
    __table_args__ = (
        CheckConstraint("origin IN ('desk', 'player')", name="origin"),
        UniqueConstraint("player_id", "client_id"),
        Index(
            "ix_sessions_of_player", "player_id", "held_on", "id", "is_unread",
            sqlite_where=text("deleted_step IS NULL"), postgresql_where=text("deleted_step IS NULL"),
        ),
        Index(
            "ix_sessions_group_id", "group_id",
            sqlite_where=text("group_id IS NOT NULL"), postgresql_where=text("group_id IS NOT NULL"),
        ),
        Index("ix_sessions_held_on_id", "held_on", "id"),
        Index("ix_sessions_is_unread_held_on", "is_unread", "held_on", "id"),
        Index("ix_sessions_ended_at_held_on", "ended_at", "held_on", "id"),
    )  # fmt: skip
    player_id: Mapped[UUID] = of_player()
    putter_id: Mapped[UUID | None] = mapped_column(ForeignKey("putters.id"))
    green_id: Mapped[UUID | None] = mapped_column(ForeignKey("greens.id"))
    green_speed_m: Mapped[float | None]
    green_slope_rad: Mapped[float] = mapped_column(default=0.0)
    green_cross_slope_rad: Mapped[float] = mapped_column(default=0.0)
    held_on: Mapped[dt.date]
    ended_at: Mapped[datetime | None]
    place: Mapped[str] = mapped_column(default="")
    note: Mapped[str] = mapped_column(default="")
    kind: Mapped[str] = mapped_column(default="lesson")
    group_id: Mapped[UUID | None]
    turn: Mapped[int] = mapped_column(default=0)
    origin: Mapped[str] = mapped_column(default="desk")
    client_id: Mapped[str | None]
    is_unread: Mapped[bool] = mapped_column(default=False)
