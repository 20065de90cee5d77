"""Deletions made by hand are steps that can be taken back: one step for all that goes with a row."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy import ColumnElement, CursorResult, select, update
from sqlalchemy.orm import Session as Transaction

from pacewright.core.errors import ConflictError, NotFoundError
from pacewright.records.schema import (
    DELETABLE,
    Analysis,
    Finding,
    Player,
    Recording,
    Row,
    Session,
    Stroke,
    UndoStep,
)
from pacewright.records.schema.base import now


def delete(transaction: Transaction, row: Row, made_by: str) -> tuple[UndoStep, int]:
    """Delete a row with all that hangs from it; returns the step and how many rows it took."""
    step = UndoStep(what=row.__tablename__, target_id=_id(row), made_by=made_by)
    transaction.add(step)
    transaction.flush()
    rows = 0
    for table, hangs in _what_hangs_from(row):
        result = transaction.execute(
            update(table)
            .where(hangs, _deleted_step(table).is_(None))
            .values(deleted_step=step.id)
            .execution_options(synchronize_session=False)
        )
        rows += _count(result)
    return step, rows


def take_back(transaction: Transaction, step_id: UUID) -> tuple[UndoStep, int]:
    """Bring back all that a step deleted. Raises NotFoundError, or ConflictError when it cannot be now."""
    step = transaction.get(UndoStep, step_id, with_for_update=True)
    if step is None:
        raise NotFoundError("There is no such deletion to take back.")
    if step.undone_at is not None:
        raise ConflictError("That deletion was taken back already.")
    _check_owner_is_there(transaction, step)
    rows = 0
    for table in DELETABLE:
        result = transaction.execute(
            update(table)
            .where(_deleted_step(table) == step.id)
            .values(deleted_step=None)
            .execution_options(synchronize_session=False)
        )
        rows += _count(result)
    if not rows:
        raise NotFoundError("What was deleted has been erased since; it cannot be brought back.")
    step.undone_at = now()
    return step, rows


def owner(transaction: Transaction, step: UndoStep) -> UUID | None:
    """The player whose row a step deleted; None for what belongs to no player."""
    if step.what == Player.__tablename__:
        return step.target_id
    row = transaction.get(_table(step), step.target_id)
    player_id = getattr(row, "player_id", None)
    return player_id if isinstance(player_id, UUID) else None


def _table(step: UndoStep) -> type[Row]:
    return next(table for table in DELETABLE if table.__tablename__ == step.what)


def _what_hangs_from(row: Row) -> list[tuple[type[Row], ColumnElement[bool]]]:
    """The tables of which rows go with this one, and which rows."""
    identifier = _id(row)
    if isinstance(row, Player):
        others = [t for t in DELETABLE if t is not Player and "player_id" in t.__table__.columns]
        return [(Player, Player.id == identifier)] + [
            (table, table.__table__.columns["player_id"] == identifier) for table in others
        ]
    if isinstance(row, Session):
        others = [t for t in DELETABLE if "session_id" in t.__table__.columns]
        return [(Session, Session.id == identifier)] + [
            (table, table.__table__.columns["session_id"] == identifier) for table in others
        ]
    if isinstance(row, Recording):
        analyses = select(Analysis.id).where(Analysis.recording_id == identifier)
        return [
            (Recording, Recording.id == identifier),
            (Finding, Finding.analysis_id.in_(analyses)),
            (Stroke, Stroke.recording_id == identifier),
            (Analysis, Analysis.recording_id == identifier),
        ]
    table = type(row)
    return [(table, table.__table__.columns["id"] == identifier)]


def _check_owner_is_there(transaction: Transaction, step: UndoStep) -> None:
    """What hangs from a deleted session or player cannot stand without it."""
    row = transaction.get(_table(step), step.target_id)
    owners: tuple[tuple[str, type[Row]], ...] = (("session_id", Session), ("player_id", Player))
    for column, above in owners:
        above_id = getattr(row, column, None)
        above_row = transaction.get(above, above_id) if above_id is not None else None
        if getattr(above_row, "deleted_step", None) is not None:
            name = above.__tablename__.rstrip("s")
            raise ConflictError(f"It belongs to a {name} that was deleted too; take that back first.")


def _deleted_step(table: type[Row]) -> ColumnElement[UUID | None]:
    return table.__table__.columns["deleted_step"]


def _id(row: Row) -> UUID:
    identifier = getattr(row, "id", None)
    assert isinstance(identifier, UUID)
    return identifier


def _count(result: object) -> int:
    assert isinstance(result, CursorResult)
    return result.rowcount
