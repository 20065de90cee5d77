"""Recordings, analyses, strokes and corrections."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from pacewright.records.migrations.types import JSON_TYPE, TIME

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the tables, each after those that it points to."""
    _uploads()
    _recordings()
    _analyses()
    _tracks()
    _strokes()
    _curves()
    _findings()
    _corrections()


def _uploads() -> None:
    op.create_table(
        "uploads",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("received", sa.BigInteger(), nullable=False),
        sa.Column("sha256", sa.String(), nullable=True),
        sa.Column("is_complete", sa.Boolean(), nullable=False),
        sa.Column("settings", JSON_TYPE, nullable=False),
        sa.Column("touched_at", TIME, nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.CheckConstraint("received >= 0 AND received <= size", name=op.f("ck_uploads_received")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_uploads_player_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_uploads_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_uploads")),
    )
    op.create_index(op.f("ix_uploads_player_id"), "uploads", ["player_id"], unique=False)
    op.create_index(op.f("ix_uploads_session_id"), "uploads", ["session_id"], unique=False)


def _recordings() -> None:
    op.create_table(
        "recordings",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("sha256", sa.String(), nullable=False),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("asked_m", sa.Double(), nullable=True),
        sa.Column("settings", JSON_TYPE, nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("deleted_step", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["deleted_step"], ["undo_steps.id"], name=op.f("fk_recordings_deleted_step")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_recordings_player_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_recordings_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recordings")),
    )
    op.create_index(op.f("ix_recordings_deleted_step"), "recordings", ["deleted_step"], unique=False)
    op.create_index("ix_recordings_player_id_id", "recordings", ["player_id", "id"], unique=False)
    op.create_index("ix_recordings_session_id_id", "recordings", ["session_id", "id"], unique=False)
    op.create_index(op.f("ix_recordings_sha256"), "recordings", ["sha256"], unique=False)


def _analyses() -> None:
    op.create_table(
        "analyses",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("recording_id", sa.Uuid(), nullable=False),
        sa.Column("method", sa.String(), nullable=False),
        sa.Column("pacewright_version", sa.String(), nullable=False),
        sa.Column("settings", JSON_TYPE, nullable=False),
        sa.Column("result", JSON_TYPE, nullable=False),
        sa.Column("about", sa.String(), nullable=False),
        sa.Column("superseded_by", sa.Uuid(), nullable=True),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("deleted_step", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["deleted_step"], ["undo_steps.id"], name=op.f("fk_analyses_deleted_step")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_analyses_player_id")),
        sa.ForeignKeyConstraint(["recording_id"], ["recordings.id"], name=op.f("fk_analyses_recording_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_analyses_session_id")),
        sa.ForeignKeyConstraint(["superseded_by"], ["analyses.id"], name=op.f("fk_analyses_superseded_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_analyses")),
    )
    op.create_index(op.f("ix_analyses_deleted_step"), "analyses", ["deleted_step"], unique=False)
    op.create_index(op.f("ix_analyses_player_id"), "analyses", ["player_id"], unique=False)
    op.create_index("ix_analyses_recording_id_id", "analyses", ["recording_id", "id"], unique=False)
    op.create_index(op.f("ix_analyses_session_id"), "analyses", ["session_id"], unique=False)


def _tracks() -> None:
    op.create_table(
        "tracks",
        sa.Column("analysis_id", sa.Uuid(), nullable=False),
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("packed", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["analysis_id"], ["analyses.id"], name=op.f("fk_tracks_analysis_id")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_tracks_player_id")),
        sa.PrimaryKeyConstraint("analysis_id", name=op.f("pk_tracks")),
    )
    op.create_index(op.f("ix_tracks_player_id"), "tracks", ["player_id"], unique=False)


def _strokes() -> None:
    op.create_table(
        "strokes",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("recording_id", sa.Uuid(), nullable=False),
        sa.Column("analysis_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("is_current", sa.Boolean(), nullable=False),
        sa.Column("asked_m", sa.Double(), nullable=True),
        sa.Column("impact_time_s", sa.Double(), nullable=True),
        sa.Column("backswing_time_s", sa.Double(), nullable=True),
        sa.Column("downswing_time_s", sa.Double(), nullable=True),
        sa.Column("time_ratio", sa.Double(), nullable=True),
        sa.Column("backswing_length_m", sa.Double(), nullable=True),
        sa.Column("follow_through_length_m", sa.Double(), nullable=True),
        sa.Column("impact_speed_m_s", sa.Double(), nullable=True),
        sa.Column("impact_acceleration_index", sa.Double(), nullable=True),
        sa.Column("peak_speed_lead_s", sa.Double(), nullable=True),
        sa.Column("ball_speed_m_s", sa.Double(), nullable=True),
        sa.Column("roll_out_m", sa.Double(), nullable=True),
        sa.Column("smoothness_sparc", sa.Double(), nullable=True),
        sa.Column("path_angle_deg", sa.Double(), nullable=True),
        sa.Column("events", JSON_TYPE, nullable=False),
        sa.Column("measures", JSON_TYPE, nullable=False),
        sa.Column("quality", JSON_TYPE, nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("deleted_step", sa.Uuid(), nullable=True),
        sa.CheckConstraint("kind IN ('putt', 'rehearsal')", name=op.f("ck_strokes_kind")),
        sa.ForeignKeyConstraint(["analysis_id"], ["analyses.id"], name=op.f("fk_strokes_analysis_id")),
        sa.ForeignKeyConstraint(["deleted_step"], ["undo_steps.id"], name=op.f("fk_strokes_deleted_step")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_strokes_player_id")),
        sa.ForeignKeyConstraint(["recording_id"], ["recordings.id"], name=op.f("fk_strokes_recording_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_strokes_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_strokes")),
    )
    op.create_index("ix_strokes_analysis_id_number", "strokes", ["analysis_id", "number"], unique=False)
    op.create_index(op.f("ix_strokes_deleted_step"), "strokes", ["deleted_step"], unique=False)
    op.create_index(
        "ix_strokes_of_player", "strokes", ["player_id", "is_current", "deleted_step", "id"], unique=False
    )
    op.create_index(
        "ix_strokes_of_session", "strokes", ["session_id", "is_current", "deleted_step", "id"], unique=False
    )
    op.create_index(op.f("ix_strokes_recording_id"), "strokes", ["recording_id"], unique=False)


def _curves() -> None:
    op.create_table(
        "curves",
        sa.Column("stroke_id", sa.Uuid(), nullable=False),
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("packed", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_curves_player_id")),
        sa.ForeignKeyConstraint(["stroke_id"], ["strokes.id"], name=op.f("fk_curves_stroke_id")),
        sa.PrimaryKeyConstraint("stroke_id", name=op.f("pk_curves")),
    )
    op.create_index(op.f("ix_curves_player_id"), "curves", ["player_id"], unique=False)


def _findings() -> None:
    op.create_table(
        "findings",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("session_id", sa.Uuid(), nullable=False),
        sa.Column("analysis_id", sa.Uuid(), nullable=False),
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("severity", sa.String(), nullable=False),
        sa.Column("body", JSON_TYPE, nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("deleted_step", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["analysis_id"], ["analyses.id"], name=op.f("fk_findings_analysis_id")),
        sa.ForeignKeyConstraint(["deleted_step"], ["undo_steps.id"], name=op.f("fk_findings_deleted_step")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_findings_player_id")),
        sa.ForeignKeyConstraint(["session_id"], ["sessions.id"], name=op.f("fk_findings_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_findings")),
    )
    op.create_index(op.f("ix_findings_analysis_id"), "findings", ["analysis_id"], unique=False)
    op.create_index(op.f("ix_findings_deleted_step"), "findings", ["deleted_step"], unique=False)
    op.create_index("ix_findings_player_id_id", "findings", ["player_id", "id"], unique=False)
    op.create_index(op.f("ix_findings_session_id"), "findings", ["session_id"], unique=False)


def _corrections() -> None:
    op.create_table(
        "corrections",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("recording_id", sa.Uuid(), nullable=False),
        sa.Column("analysis_id", sa.Uuid(), nullable=False),
        sa.Column("stroke_number", sa.Integer(), nullable=False),
        sa.Column("event", sa.String(), nullable=False),
        sa.Column("old_time_s", sa.Double(), nullable=True),
        sa.Column("new_time_s", sa.Double(), nullable=False),
        sa.Column("made_by", sa.String(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.CheckConstraint(
            "event IN ('takeaway', 'top', 'impact', 'finish')", name=op.f("ck_corrections_event")
        ),
        sa.ForeignKeyConstraint(["analysis_id"], ["analyses.id"], name=op.f("fk_corrections_analysis_id")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_corrections_player_id")),
        sa.ForeignKeyConstraint(
            ["recording_id"], ["recordings.id"], name=op.f("fk_corrections_recording_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_corrections")),
    )
    op.create_index(op.f("ix_corrections_analysis_id"), "corrections", ["analysis_id"], unique=False)
    op.create_index(op.f("ix_corrections_player_id"), "corrections", ["player_id"], unique=False)
    op.create_index(op.f("ix_corrections_recording_id"), "corrections", ["recording_id"], unique=False)
