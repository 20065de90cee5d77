"""Indexes that pages go by: those over deleted rows leave out what stands, those over lists end in the id."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"

DELETABLE = (
    "players", "putters", "greens", "sessions", "recordings", "analyses", "strokes", "findings", "plans",
    "stations", "tempo_blocks", "putts", "drill_results",
)  # fmt: skip


def upgrade() -> None:
    """Make the indexes anew."""
    deleted = sa.text("deleted_step IS NOT NULL")
    for table in DELETABLE:
        op.drop_index(f"ix_{table}_deleted_step", table)
        op.create_index(
            f"ix_{table}_deleted_step", table, ["deleted_step"],
            sqlite_where=deleted, postgresql_where=deleted,
        )  # fmt: skip
    for first in ("is_unread", "ended_at"):
        op.drop_index(f"ix_sessions_{first}_held_on", "sessions")
        op.create_index(f"ix_sessions_{first}_held_on", "sessions", [first, "held_on", "id"])
    op.drop_index("ix_sessions_player_id_held_on_id", "sessions")
    op.create_index(
        "ix_sessions_of_player", "sessions", ["player_id", "deleted_step", "held_on", "id", "is_unread"]
    )
    op.drop_index("ix_strokes_recording_id", "strokes")
    op.create_index(
        "ix_strokes_of_recording", "strokes", ["recording_id", "is_current", "deleted_step", "id"]
    )
    op.create_index(
        "ix_plans_active", "plans", ["player_id"],
        sqlite_where=sa.text("is_active = 1 AND deleted_step IS NULL"),
        postgresql_where=sa.text("is_active AND deleted_step IS NULL"),
    )  # fmt: skip
