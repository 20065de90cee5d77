"""Jobs and digests."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from pacewright.records.migrations.types import JSON_TYPE, TIME

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Make the tables, each after those that it points to."""
    _digests()
    _jobs()


def _digests() -> None:
    op.create_table(
        "digests",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("figures_version", sa.Integer(), nullable=False),
        sa.Column("pacewright_version", sa.String(), nullable=False),
        sa.Column("body", JSON_TYPE, nullable=False),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_digests_player_id")),
        sa.PrimaryKeyConstraint("player_id", "kind", name=op.f("pk_digests")),
    )


def _jobs() -> None:
    op.create_table(
        "jobs",
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("payload", JSON_TYPE, nullable=False),
        sa.Column("player_id", sa.Uuid(), nullable=True),
        sa.Column("session_id", sa.Uuid(), nullable=True),
        sa.Column("recording_id", sa.Uuid(), nullable=True),
        sa.Column("progress", sa.Double(), nullable=False),
        sa.Column("progress_at", TIME, nullable=True),
        sa.Column("heartbeat_at", TIME, nullable=True),
        sa.Column("started_at", TIME, nullable=True),
        sa.Column("ended_at", TIME, nullable=True),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("worker", sa.String(), nullable=True),
        sa.Column("worker_pid", sa.Integer(), nullable=True),
        sa.Column("cancel_asked", sa.Boolean(), nullable=False),
        sa.Column("error", sa.String(), nullable=False),
        sa.Column("result_id", sa.Uuid(), nullable=True),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.CheckConstraint(
            "state IN ('queued', 'running', 'done', 'failed', 'cancelled', 'stuck')",
            name=op.f("ck_jobs_state"),
        ),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_jobs_player_id")),
        sa.ForeignKeyConstraint(["recording_id"], ["recordings.id"], name=op.f("fk_jobs_recording_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_jobs_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_jobs")),
    )
    op.create_index(op.f("ix_jobs_player_id"), "jobs", ["player_id"], unique=False)
    op.create_index(op.f("ix_jobs_recording_id"), "jobs", ["recording_id"], unique=False)
    op.create_index(op.f("ix_jobs_session_id"), "jobs", ["session_id"], unique=False)
    op.create_index("ix_jobs_state_id", "jobs", ["state", "id"], unique=False)
