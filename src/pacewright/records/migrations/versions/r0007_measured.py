"""Strokes that a running job has measured so far."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from pacewright.records.migrations.types import JSON_TYPE

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "measured_strokes",
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("asked_m", sa.Double(), nullable=True),
        sa.Column("measures", JSON_TYPE, nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_measured_strokes_job_id")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_measured_strokes_player_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_measured_strokes_session_id")),
        sa.PrimaryKeyConstraint("job_id", "number", name=op.f("pk_measured_strokes")),
    )
    op.create_index(op.f("ix_measured_strokes_player_id"), "measured_strokes", ["player_id"])
    op.create_index(op.f("ix_measured_strokes_session_id"), "measured_strokes", ["session_id"])
