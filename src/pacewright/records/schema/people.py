"""Players, who speaks for them, what they agreed to, and who may log in."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from sqlalchemy import CheckConstraint, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from pacewright.records.schema.base import Deletable, Identified, Row, Versioned, of_player


class Player(Identified, Versioned, Deletable, Row):
    """A player. ``figures_version`` rises whenever putts or strokes change, so that digests go stale."""

    __tablename__ = "players"
    __table_args__ = (
        CheckConstraint("length(name) > 0", name="name"),
        CheckConstraint("birth_year BETWEEN 1900 AND 2100", name="birth_year"),
        CheckConstraint("units IN ('metric', 'imperial')", name="units"),
        Index("ix_players_sort_name_id", "sort_name", "id"),
    )
    name: Mapped[str]
    sort_name: Mapped[str]
    birth_year: Mapped[int | None]
    is_minor: Mapped[bool | None]
    left_handed: Mapped[bool] = mapped_column(default=False)
    units: Mapped[str] = mapped_column(default="metric")
    language: Mapped[str] = mapped_column(default="en")
    notes: Mapped[str] = mapped_column(default="")
    is_invented: Mapped[bool] = mapped_column(default=False)
    figures_version: Mapped[int] = mapped_column(default=1)


class Guardian(Identified, Row):
    """A parent or guardian of a player under age."""

    __tablename__ = "guardians"
    player_id: Mapped[UUID] = mapped_column(ForeignKey("players.id"), index=True)
    name: Mapped[str]
    contact: Mapped[str] = mapped_column(default="")
    relation: Mapped[str] = mapped_column(default="")


class Consent(Identified, Row):
    """What somebody agreed to, and until when it held. Rows are added and ended, never changed."""

    __tablename__ = "consents"
    __table_args__ = (
        CheckConstraint("kind IN ('recording', 'sharing', 'clip_review')", name="kind"),
        CheckConstraint("given_by IN ('player', 'guardian')", name="given_by"),
        Index("ix_consents_player_id_kind", "player_id", "kind"),
    )
    player_id: Mapped[UUID] = of_player()
    kind: Mapped[str]
    given_by: Mapped[str]
    guardian_id: Mapped[UUID | None] = mapped_column(ForeignKey("guardians.id"))
    how: Mapped[str] = mapped_column(default="")
    recorded_by: Mapped[str] = mapped_column(default="")
    given_at: Mapped[datetime]
    withdrawn_at: Mapped[datetime | None]


class User(Identified, Versioned, Row):
    """Somebody who may log in. ``player_id`` for the role player, which sees only itself."""

    __tablename__ = "users"
    __table_args__ = (
        CheckConstraint("role IN ('coach', 'assistant', 'player')", name="role"),
        CheckConstraint("(role = 'player') = (player_id IS NOT NULL)", name="player_link"),
    )
    name: Mapped[str] = mapped_column(unique=True)
    password_hash: Mapped[str]
    role: Mapped[str]
    player_id: Mapped[UUID | None] = mapped_column(ForeignKey("players.id"), index=True)
    is_active: Mapped[bool] = mapped_column(default=True)


class Login(Identified, Row):
    """A session of somebody who is logged in; only the hash of its token is kept."""

    __tablename__ = "logins"
    user_id: Mapped[UUID] = mapped_column(ForeignKey("users.id"), index=True)
    token_hash: Mapped[str] = mapped_column(unique=True)
    csrf_token: Mapped[str]
    last_seen_at: Mapped[datetime]
    expires_at: Mapped[datetime] = mapped_column(index=True)
