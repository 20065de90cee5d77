"""Putters, greens and sessions."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from pacewright.records.migrations.types import JSON_TYPE, TIME

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the tables, each after those that it points to."""
    _putters()
    _greens()
    _green_readings()
    _sessions()


def _putters() -> None:
    op.create_table(
        "putters",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("head_mass_kg", sa.Double(), nullable=False),
        sa.Column("restitution", sa.Double(), nullable=False),
        sa.Column("notes", sa.String(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("deleted_step", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["deleted_step"], ["undo_steps.id"], name=op.f("fk_putters_deleted_step")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_putters_player_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_putters")),
    )
    op.create_index(op.f("ix_putters_deleted_step"), "putters", ["deleted_step"], unique=False)
    op.create_index(op.f("ix_putters_player_id"), "putters", ["player_id"], unique=False)


def _greens() -> None:
    op.create_table(
        "greens",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("speed_m", sa.Double(), nullable=False),
        sa.Column("speed_sd_m", sa.Double(), nullable=True),
        sa.Column("slope_rad", sa.Double(), nullable=False),
        sa.Column("cross_slope_rad", sa.Double(), nullable=False),
        sa.Column("measured_at", TIME, nullable=True),
        sa.Column("measured_how", sa.String(), nullable=False),
        sa.Column("notes", sa.String(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("deleted_step", sa.Uuid(), nullable=True),
        sa.CheckConstraint("speed_m BETWEEN 0.3 AND 10.0", name=op.f("ck_greens_speed")),
        sa.ForeignKeyConstraint(["deleted_step"], ["undo_steps.id"], name=op.f("fk_greens_deleted_step")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_greens")),
    )
    op.create_index(op.f("ix_greens_deleted_step"), "greens", ["deleted_step"], unique=False)
    op.create_index("ix_greens_name_id", "greens", ["name", "id"], unique=False)


def _green_readings() -> None:
    op.create_table(
        "green_readings",
        sa.Column("green_id", sa.Uuid(), nullable=False),
        sa.Column("measured_at", TIME, nullable=False),
        sa.Column("measured_how", sa.String(), nullable=False),
        sa.Column("speed_m", sa.Double(), nullable=False),
        sa.Column("speed_sd_m", sa.Double(), nullable=True),
        sa.Column("slope_rad", sa.Double(), nullable=False),
        sa.Column("rolls", JSON_TYPE, nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.ForeignKeyConstraint(["green_id"], ["greens.id"], name=op.f("fk_green_readings_green_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_green_readings")),
    )
    op.create_index(
        "ix_green_readings_green_id_measured_at", "green_readings", ["green_id", "measured_at"], unique=False
    )


def _sessions() -> None:
    op.create_table(
        "sessions",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("putter_id", sa.Uuid(), nullable=True),
        sa.Column("green_id", sa.Uuid(), nullable=True),
        sa.Column("green_speed_m", sa.Double(), nullable=True),
        sa.Column("green_slope_rad", sa.Double(), nullable=False),
        sa.Column("green_cross_slope_rad", sa.Double(), nullable=False),
        sa.Column("held_on", sa.Date(), nullable=False),
        sa.Column("ended_at", TIME, nullable=True),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("group_id", sa.Uuid(), nullable=True),
        sa.Column("turn", sa.Integer(), nullable=False),
        sa.Column("origin", sa.String(), nullable=False),
        sa.Column("client_id", sa.String(), nullable=True),
        sa.Column("is_unread", sa.Boolean(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("deleted_step", sa.Uuid(), nullable=True),
        sa.CheckConstraint("origin IN ('desk', 'player')", name=op.f("ck_sessions_origin")),
        sa.ForeignKeyConstraint(["deleted_step"], ["undo_steps.id"], name=op.f("fk_sessions_deleted_step")),
        sa.ForeignKeyConstraint(["green_id"], ["greens.id"], name=op.f("fk_sessions_green_id")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_sessions_player_id")),
        sa.ForeignKeyConstraint(["putter_id"], ["putters.id"], name=op.f("fk_sessions_putter_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sessions")),
        sa.UniqueConstraint("player_id", "client_id", name=op.f("uq_sessions_player_id_client_id")),
    )
    op.create_index(op.f("ix_sessions_deleted_step"), "sessions", ["deleted_step"], unique=False)
    op.create_index("ix_sessions_ended_at_held_on", "sessions", ["ended_at", "held_on"], unique=False)
    op.create_index(op.f("ix_sessions_group_id"), "sessions", ["group_id"], unique=False)
    op.create_index("ix_sessions_held_on_id", "sessions", ["held_on", "id"], unique=False)
    op.create_index("ix_sessions_is_unread_held_on", "sessions", ["is_unread", "held_on"], unique=False)
    op.create_index(
        "ix_sessions_player_id_held_on_id", "sessions", ["player_id", "held_on", "id"], unique=False
    )
