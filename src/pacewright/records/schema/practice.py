"""Putts and where they finished, stations, plans, drills, and links handed to players."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import CheckConstraint, ForeignKey, Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from pacewright.records.schema.base import Body, Deletable, Identified, Row, Versioned, of_player


class Putt(Identified, Versioned, Deletable, Row):
    """A putt: what was asked and where the ball finished.

    ``client_id`` is the sender's own name for it, so that sending twice puts it in once. ``measures`` are
    those noted with the putt; a linked stroke's go before them. ``beat_error_s`` is contact against where
    the beat wanted it.
    """

    __tablename__ = "putts"
    __table_args__ = (
        CheckConstraint("asked_m > 0", name="asked"),
        CheckConstraint("holed OR finish_along_m IS NOT NULL", name="finish"),
        UniqueConstraint("player_id", "client_id"),
        Index("ix_putts_of_player", "player_id", "deleted_step", "played_at", "id"),
        Index("ix_putts_of_session", "session_id", "deleted_step", "played_at", "id"),
    )
    player_id: Mapped[UUID] = of_player()
    session_id: Mapped[UUID] = mapped_column(ForeignKey("sessions.id"))
    stroke_id: Mapped[UUID | None] = mapped_column(ForeignKey("strokes.id"), index=True)
    client_id: Mapped[str | None]
    played_at: Mapped[datetime]
    asked_m: Mapped[float]
    finish_along_m: Mapped[float | None]
    finish_across_m: Mapped[float | None]
    finish_sd_m: Mapped[float] = mapped_column(default=0.0)
    holed: Mapped[bool] = mapped_column(default=False)
    guess_along_m: Mapped[float | None]
    block: Mapped[str] = mapped_column(default="")
    phase: Mapped[str] = mapped_column(default="")
    beats_per_minute: Mapped[float | None]
    beat_error_s: Mapped[float | None]
    measures: Mapped[Body] = mapped_column(default=dict)


class TempoBlock(Identified, Deletable, Row):
    """A block of putts to one beat, and the player's own mark for it (1 to 5)."""

    __tablename__ = "tempo_blocks"
    __table_args__ = (
        UniqueConstraint("session_id", "block"),
        CheckConstraint("comfort BETWEEN 1 AND 5", name="comfort"),
    )
    player_id: Mapped[UUID] = mapped_column(ForeignKey("players.id"), index=True)
    session_id: Mapped[UUID] = mapped_column(ForeignKey("sessions.id"))
    block: Mapped[str]
    beats_per_minute: Mapped[float]
    comfort: Mapped[float | None]


class Plan(Identified, Versioned, Deletable, Row):
    """A practice plan: ``request`` what it was made from, ``body`` in the words of ``plan --json``."""

    __tablename__ = "plans"
    __table_args__ = (
        Index("ix_plans_player_id_id", "player_id", "id"),
        Index(
            "ix_plans_active", "player_id",
            sqlite_where=text("is_active = 1 AND deleted_step IS NULL"),
            postgresql_where=text("is_active AND deleted_step IS NULL"),
        ),
    )  # fmt: skip
    player_id: Mapped[UUID] = of_player()
    is_active: Mapped[bool] = mapped_column(default=True)
    request: Mapped[Body]
    body: Mapped[Body]


class Station(Identified, Deletable, Row):
    """A practice station: ``request`` what it was made from, ``body`` in the words of ``station --json``."""

    __tablename__ = "stations"
    __table_args__ = (Index("ix_stations_player_id_id", "player_id", "id"),)
    player_id: Mapped[UUID] = of_player()
    session_id: Mapped[UUID | None] = mapped_column(ForeignKey("sessions.id"), index=True)
    request: Mapped[Body]
    body: Mapped[Body]


class DrillResult(Identified, Deletable, Row):
    """One go at a drill and its score."""

    __tablename__ = "drill_results"
    __table_args__ = (
        UniqueConstraint("player_id", "client_id"),
        Index("ix_drill_results_of_player", "player_id", "drill", "done_at"),
    )
    player_id: Mapped[UUID] = of_player()
    session_id: Mapped[UUID] = mapped_column(ForeignKey("sessions.id"), index=True)
    plan_id: Mapped[UUID | None] = mapped_column(ForeignKey("plans.id"), index=True)
    client_id: Mapped[str | None]
    drill: Mapped[str]
    done_at: Mapped[datetime]
    score: Mapped[Body] = mapped_column(default=dict)
    notes: Mapped[list[Any]] = mapped_column(default=list)


class ShareToken(Identified, Row):
    """A link that the coach handed out: only the hash of its token is kept."""

    __tablename__ = "share_tokens"
    player_id: Mapped[UUID] = mapped_column(ForeignKey("players.id"), index=True)
    plan_id: Mapped[UUID | None] = mapped_column(ForeignKey("plans.id"), index=True)
    token_hash: Mapped[str] = mapped_column(unique=True)
    label: Mapped[str] = mapped_column(default="")
    expires_at: Mapped[datetime]
    revoked_at: Mapped[datetime | None]
    last_used_at: Mapped[datetime | None]
