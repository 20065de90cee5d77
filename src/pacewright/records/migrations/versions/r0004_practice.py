"""Putts, plans, stations, drills and links."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from pacewright.records.migrations.types import JSON_TYPE, TIME

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Make the tables, each after those that it points to."""
    _plans()
    _stations()
    _tempo_blocks()
    _putts()
    _drill_results()
    _share_tokens()


def _plans() -> None:
    op.create_table(
        "plans",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("is_active", sa.Boolean(), nullable=False),
        sa.Column("request", JSON_TYPE, nullable=False),
        sa.Column("body", JSON_TYPE, nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("deleted_step", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["deleted_step"], ["undo_steps.id"], name=op.f("fk_plans_deleted_step")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_plans_player_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plans")),
    )
    op.create_index(op.f("ix_plans_deleted_step"), "plans", ["deleted_step"], unique=False)
    op.create_index("ix_plans_player_id_id", "plans", ["player_id", "id"], unique=False)


def _stations() -> None:
    op.create_table(
        "stations",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("session_id", sa.Uuid(), nullable=True),
        sa.Column("request", JSON_TYPE, nullable=False),
        sa.Column("body", JSON_TYPE, nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("deleted_step", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["deleted_step"], ["undo_steps.id"], name=op.f("fk_stations_deleted_step")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_stations_player_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_stations_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stations")),
    )
    op.create_index(op.f("ix_stations_deleted_step"), "stations", ["deleted_step"], unique=False)
    op.create_index("ix_stations_player_id_id", "stations", ["player_id", "id"], unique=False)
    op.create_index(op.f("ix_stations_session_id"), "stations", ["session_id"], unique=False)


def _tempo_blocks() -> None:
    op.create_table(
        "tempo_blocks",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("block", sa.String(), nullable=False),
        sa.Column("beats_per_minute", sa.Double(), nullable=False),
        sa.Column("comfort", sa.Double(), nullable=True),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("deleted_step", sa.Uuid(), nullable=True),
        sa.CheckConstraint("comfort BETWEEN 1 AND 5", name=op.f("ck_tempo_blocks_comfort")),
        sa.ForeignKeyConstraint(
            ["deleted_step"], ["undo_steps.id"], name=op.f("fk_tempo_blocks_deleted_step")
        ),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_tempo_blocks_player_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_tempo_blocks_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tempo_blocks")),
        sa.UniqueConstraint("session_id", "block", name=op.f("uq_tempo_blocks_session_id_block")),
    )
    op.create_index(op.f("ix_tempo_blocks_deleted_step"), "tempo_blocks", ["deleted_step"], unique=False)
    op.create_index(op.f("ix_tempo_blocks_player_id"), "tempo_blocks", ["player_id"], unique=False)


def _putts() -> None:
    op.create_table(
        "putts",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("stroke_id", sa.Uuid(), nullable=True),
        sa.Column("client_id", sa.String(), nullable=True),
        sa.Column("played_at", TIME, nullable=False),
        sa.Column("asked_m", sa.Double(), nullable=False),
        sa.Column("finish_along_m", sa.Double(), nullable=True),
        sa.Column("finish_across_m", sa.Double(), nullable=True),
        sa.Column("finish_sd_m", sa.Double(), nullable=False),
        sa.Column("holed", sa.Boolean(), nullable=False),
        sa.Column("guess_along_m", sa.Double(), nullable=True),
        sa.Column("block", sa.String(), nullable=False),
        sa.Column("phase", sa.String(), nullable=False),
        sa.Column("beats_per_minute", sa.Double(), nullable=True),
        sa.Column("beat_error_s", sa.Double(), nullable=True),
        sa.Column("measures", JSON_TYPE, nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("deleted_step", sa.Uuid(), nullable=True),
        sa.CheckConstraint("asked_m > 0", name=op.f("ck_putts_asked")),
        sa.CheckConstraint("holed OR finish_along_m IS NOT NULL", name=op.f("ck_putts_finish")),
        sa.ForeignKeyConstraint(["deleted_step"], ["undo_steps.id"], name=op.f("fk_putts_deleted_step")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_putts_player_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_putts_session_id")),
        sa.ForeignKeyConstraint(["stroke_id"], ["strokes.id"], name=op.f("fk_putts_stroke_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_putts")),
        sa.UniqueConstraint("player_id", "client_id", name=op.f("uq_putts_player_id_client_id")),
    )
    op.create_index(op.f("ix_putts_deleted_step"), "putts", ["deleted_step"], unique=False)
    op.create_index(
        "ix_putts_of_player", "putts", ["player_id", "deleted_step", "played_at", "id"], unique=False
    )
    op.create_index(
        "ix_putts_of_session", "putts", ["session_id", "deleted_step", "played_at", "id"], unique=False
    )
    op.create_index(op.f("ix_putts_stroke_id"), "putts", ["stroke_id"], unique=False)


def _drill_results() -> None:
    op.create_table(
        "drill_results",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("plan_id", sa.Uuid(), nullable=True),
        sa.Column("client_id", sa.String(), nullable=True),
        sa.Column("drill", sa.String(), nullable=False),
        sa.Column("done_at", TIME, nullable=False),
        sa.Column("score", JSON_TYPE, nullable=False),
        sa.Column("notes", JSON_TYPE, nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("deleted_step", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(
            ["deleted_step"], ["undo_steps.id"], name=op.f("fk_drill_results_deleted_step")
        ),
        sa.ForeignKeyConstraint(["plan_id"], ["plans.id"], name=op.f("fk_drill_results_plan_id")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_drill_results_player_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_drill_results_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_drill_results")),
        sa.UniqueConstraint("player_id", "client_id", name=op.f("uq_drill_results_player_id_client_id")),
    )
    op.create_index(op.f("ix_drill_results_deleted_step"), "drill_results", ["deleted_step"], unique=False)
    op.create_index(
        "ix_drill_results_of_player", "drill_results", ["player_id", "drill", "done_at"], unique=False
    )
    op.create_index(op.f("ix_drill_results_plan_id"), "drill_results", ["plan_id"], unique=False)
    op.create_index(op.f("ix_drill_results_session_id"), "drill_results", ["session_id"], unique=False)


def _share_tokens() -> None:
    op.create_table(
        "share_tokens",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("plan_id", sa.Uuid(), nullable=True),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("label", sa.String(), nullable=False),
        sa.Column("expires_at", TIME, nullable=False),
        sa.Column("revoked_at", TIME, nullable=True),
        sa.Column("last_used_at", TIME, nullable=True),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.ForeignKeyConstraint(["plan_id"], ["plans.id"], name=op.f("fk_share_tokens_plan_id")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_share_tokens_player_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_share_tokens")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_share_tokens_token_hash")),
    )
    op.create_index(op.f("ix_share_tokens_plan_id"), "share_tokens", ["plan_id"], unique=False)
    op.create_index(op.f("ix_share_tokens_player_id"), "share_tokens", ["player_id"], unique=False)
