"""Players, who speaks for them, what they agreed to, and who may log in."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from pacewright.records.migrations.types import JSON_TYPE, TIME

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables, each after those that it points to."""
    _settings()
    _undo_steps()
    _players()
    _guardians()
    _consents()
    _users()
    _logins()
    _journal()


def _settings() -> None:
    op.create_table(
        "settings",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("value", JSON_TYPE, nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_settings")),
    )


def _undo_steps() -> None:
    op.create_table(
        "undo_steps",
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("target_id", sa.Uuid(), nullable=False),
        sa.Column("made_by", sa.String(), nullable=False),
        sa.Column("undone_at", TIME, nullable=True),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_undo_steps")),
    )
    op.create_index(op.f("ix_undo_steps_target_id"), "undo_steps", ["target_id"], unique=False)


def _players() -> None:
    op.create_table(
        "players",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("sort_name", sa.String(), nullable=False),
        sa.Column("birth_year", sa.Integer(), nullable=True),
        sa.Column("is_minor", sa.Boolean(), nullable=True),
        sa.Column("left_handed", sa.Boolean(), nullable=False),
        sa.Column("units", sa.String(), nullable=False),
        sa.Column("language", sa.String(), nullable=False),
        sa.Column("notes", sa.String(), nullable=False),
        sa.Column("is_invented", sa.Boolean(), nullable=False),
        sa.Column("figures_version", sa.Integer(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("deleted_step", sa.Uuid(), nullable=True),
        sa.CheckConstraint("units IN ('metric', 'imperial')", name=op.f("ck_players_units")),
        sa.CheckConstraint("birth_year BETWEEN 1900 AND 2100", name=op.f("ck_players_birth_year")),
        sa.CheckConstraint("length(name) > 0", name=op.f("ck_players_name")),
        sa.ForeignKeyConstraint(["deleted_step"], ["undo_steps.id"], name=op.f("fk_players_deleted_step")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_players")),
    )
    op.create_index(op.f("ix_players_deleted_step"), "players", ["deleted_step"], unique=False)
    op.create_index("ix_players_sort_name_id", "players", ["sort_name", "id"], unique=False)


def _guardians() -> None:
    op.create_table(
        "guardians",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("contact", sa.String(), nullable=False),
        sa.Column("relation", sa.String(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_guardians_player_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_guardians")),
    )
    op.create_index(op.f("ix_guardians_player_id"), "guardians", ["player_id"], unique=False)


def _consents() -> None:
    op.create_table(
        "consents",
        sa.Column("player_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("given_by", sa.String(), nullable=False),
        sa.Column("guardian_id", sa.Uuid(), nullable=True),
        sa.Column("how", sa.String(), nullable=False),
        sa.Column("recorded_by", sa.String(), nullable=False),
        sa.Column("given_at", TIME, nullable=False),
        sa.Column("withdrawn_at", TIME, nullable=True),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.CheckConstraint("given_by IN ('player', 'guardian')", name=op.f("ck_consents_given_by")),
        sa.CheckConstraint("kind IN ('recording', 'sharing', 'clip_review')", name=op.f("ck_consents_kind")),
        sa.ForeignKeyConstraint(["guardian_id"], ["guardians.id"], name=op.f("fk_consents_guardian_id")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_consents_player_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_consents")),
    )
    op.create_index("ix_consents_player_id_kind", "consents", ["player_id", "kind"], unique=False)


def _users() -> None:
    op.create_table(
        "users",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("password_hash", sa.String(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("player_id", sa.Uuid(), nullable=True),
        sa.Column("is_active", sa.Boolean(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("(role = 'player') = (player_id IS NOT NULL)", name=op.f("ck_users_player_link")),
        sa.CheckConstraint("role IN ('coach', 'assistant', 'player')", name=op.f("ck_users_role")),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_users_player_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_users")),
        sa.UniqueConstraint("name", name=op.f("uq_users_name")),
    )
    op.create_index(op.f("ix_users_player_id"), "users", ["player_id"], unique=False)


def _logins() -> None:
    op.create_table(
        "logins",
        sa.Column("user_id", sa.Uuid(), nullable=False),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("csrf_token", sa.String(), nullable=False),
        sa.Column("last_seen_at", TIME, nullable=False),
        sa.Column("expires_at", TIME, nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.ForeignKeyConstraint(["user_id"], ["users.id"], name=op.f("fk_logins_user_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_logins")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_logins_token_hash")),
    )
    op.create_index(op.f("ix_logins_expires_at"), "logins", ["expires_at"], unique=False)
    op.create_index(op.f("ix_logins_user_id"), "logins", ["user_id"], unique=False)


def _journal() -> None:
    op.create_table(
        "journal",
        sa.Column("made_by", sa.String(), nullable=False),
        sa.Column("action", sa.String(), nullable=False),
        sa.Column("target", sa.String(), nullable=False),
        sa.Column("target_id", sa.Uuid(), nullable=True),
        sa.Column("player_id", sa.Uuid(), nullable=True),
        sa.Column("detail", JSON_TYPE, nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("created_at", TIME, nullable=False),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name=op.f("fk_journal_player_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_journal")),
    )
    op.create_index("ix_journal_player_id_id", "journal", ["player_id", "id"], unique=False)
