"""Sessions of a player by an index over those that stand, groups by one over those in a group.

Over deleted rows too, PostgreSQL would not take the first for an order, nor SQLite the second for a search.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Make the indexes anew."""
    stands, grouped = sa.text("deleted_step IS NULL"), sa.text("group_id IS NOT NULL")
    op.drop_index("ix_sessions_of_player", "sessions")
    op.create_index(
        "ix_sessions_of_player", "sessions", ["player_id", "held_on", "id", "is_unread"],
        sqlite_where=stands, postgresql_where=stands,
    )  # fmt: skip
    op.drop_index("ix_sessions_group_id", "sessions")
    op.create_index(
        "ix_sessions_group_id", "sessions", ["group_id"], sqlite_where=grouped, postgresql_where=grouped
    )
