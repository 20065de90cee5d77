"""Real erasure of a player: every row, every file that nobody else has, and the pages they stood on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, cast
from uuid import UUID

from sqlalchemy import CursorResult, delete, or_, select, text
from sqlalchemy.orm import Session as Transaction

from pacewright.records.engine import Database
from pacewright.records.schema import (
    DELETABLE,
    OF_A_PLAYER,
    JournalEntry,
    Login,
    Player,
    Recording,
    UndoStep,
    Upload,
    User,
)

ERASED = "erase"


@dataclass(frozen=True, slots=True)
class Erased:
    """What an erasure took from the database, and the files that nobody else has."""

    rows: int
    hashes: tuple[str, ...]
    uploads: tuple[UUID, ...]
    tables: tuple[str, ...] = ()


def erase_rows(transaction: Transaction, player_id: UUID) -> Erased:
    """Delete every row of a player; all that stays is that somebody of this id was erased."""
    own = set(transaction.scalars(select(Recording.sha256).where(Recording.player_id == player_id)))
    others = select(Recording.sha256).where(Recording.player_id != player_id, Recording.sha256.in_(own))
    uploads = tuple(transaction.scalars(select(Upload.id).where(Upload.player_id == player_id)))
    steps = _steps(transaction, player_id)
    lonely = tuple(sorted(own - set(transaction.scalars(others))))
    users = select(User.id).where(User.player_id == player_id)
    counts = {"logins": _count(transaction.execute(delete(Login).where(Login.user_id.in_(users))))}
    for table in reversed(OF_A_PLAYER):
        columns = table.__table__.columns
        owner = columns["id"] if table is Player else columns["player_id"]
        counts[table.__tablename__] = _count(transaction.execute(delete(table).where(owner == player_id)))
    for start in range(0, len(steps), 5000):
        transaction.execute(delete(UndoStep).where(UndoStep.id.in_(steps[start : start + 5000])))
    touched = tuple(table for table, count in counts.items() if count)
    return Erased(sum(counts.values()), lonely, uploads, touched)


def wipe(database: Database, tables: Iterable[str]) -> bool:
    """Rewrite the database so that no page holds what was deleted; whether all of it was done.

    SQLite overwrites as it deletes (secure_delete); rewriting also takes what older pages and the log held.
    PostgreSQL rewrites the ``tables``, while its own log keeps what it kept until it is recycled.
    """
    with database.engine.connect() as connection:
        raw = connection.connection.dbapi_connection
        assert raw is not None
        if database.is_sqlite:
            raw.execute("VACUUM")
            busy, *_ = raw.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            return not busy
    with database.engine.execution_options(isolation_level="AUTOCOMMIT").connect() as connection:
        for table in tables:
            connection.execute(text(f'VACUUM FULL "{table}"'))
        connection.execute(text("CHECKPOINT"))
    return True


def erased_players(transaction: Transaction) -> list[tuple[UUID, JournalEntry]]:
    """Players that were erased, as the journal knows them."""
    entries = transaction.scalars(select(JournalEntry).where(JournalEntry.action == ERASED))
    return [(entry.target_id, entry) for entry in entries if entry.target_id is not None]


def _steps(transaction: Transaction, player_id: UUID) -> list[UUID]:
    """The deletions that took rows of this player alone."""
    ids: set[UUID] = set()
    for table in DELETABLE:
        columns = table.__table__.columns
        owner = columns["id"] if table is Player else columns.get("player_id")
        if owner is not None:
            step = columns["deleted_step"]
            ids |= set(transaction.scalars(select(step).where(owner == player_id, step.is_not(None))))
    own = transaction.scalars(
        select(UndoStep.id).where(or_(UndoStep.target_id == player_id, UndoStep.id.in_(ids)))
    )
    return list(own)


def _count(result: Any) -> int:
    return cast(CursorResult[Any], result).rowcount
