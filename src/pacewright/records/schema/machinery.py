"""What the desk needs to run: jobs, undo, the journal, settings, digests."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import CheckConstraint, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from pacewright.records.schema.base import JSON_TYPE, Body, Identified, Row

JOB_STATES = ("queued", "running", "done", "failed", "cancelled", "stuck")


class UndoStep(Identified, Row):
    """A deletion made by hand, with all that it took along. Undone or not, the step stays in the journal."""

    __tablename__ = "undo_steps"
    what: Mapped[str]
    target_id: Mapped[UUID] = mapped_column(index=True)
    made_by: Mapped[str]
    undone_at: Mapped[datetime | None]


class JournalEntry(Identified, Row):
    """Who did what, when. It holds no names, so that an erased player leaves none behind."""

    __tablename__ = "journal"
    __table_args__ = (Index("ix_journal_player_id_id", "player_id", "id"),)
    made_by: Mapped[str]
    action: Mapped[str]
    target: Mapped[str]
    target_id: Mapped[UUID | None]
    player_id: Mapped[UUID | None] = mapped_column(ForeignKey("players.id"))
    detail: Mapped[Body] = mapped_column(default=dict)


class Job(Identified, Row):
    """Work outside the request. ``progress`` runs from 0 to 1; ``error`` is fit for a person."""

    __tablename__ = "jobs"
    __table_args__ = (
        CheckConstraint(f"state IN {JOB_STATES}", name="state"),
        Index("ix_jobs_state_id", "state", "id"),
    )
    kind: Mapped[str]
    state: Mapped[str] = mapped_column(default="queued")
    payload: Mapped[Body] = mapped_column(default=dict)
    player_id: Mapped[UUID | None] = mapped_column(ForeignKey("players.id"), index=True)
    session_id: Mapped[UUID | None] = mapped_column(ForeignKey("sessions.id"), index=True)
    recording_id: Mapped[UUID | None] = mapped_column(ForeignKey("recordings.id"), index=True)
    progress: Mapped[float] = mapped_column(default=0.0)
    progress_at: Mapped[datetime | None]
    heartbeat_at: Mapped[datetime | None]
    started_at: Mapped[datetime | None]
    ended_at: Mapped[datetime | None]
    attempts: Mapped[int] = mapped_column(default=0)
    worker: Mapped[str | None]
    worker_pid: Mapped[int | None]
    cancel_asked: Mapped[bool] = mapped_column(default=False)
    error: Mapped[str] = mapped_column(default="")
    result_id: Mapped[UUID | None]


class MeasuredStroke(Row):
    """A stroke that a running job has measured, for whoever watches; it goes when the job ends."""

    __tablename__ = "measured_strokes"
    job_id: Mapped[UUID] = mapped_column(ForeignKey("jobs.id"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True)
    player_id: Mapped[UUID] = mapped_column(ForeignKey("players.id"), index=True)
    session_id: Mapped[UUID] = mapped_column(ForeignKey("sessions.id"), index=True)
    kind: Mapped[str]
    asked_m: Mapped[float | None]
    measures: Mapped[Body]


class Setting(Row):
    """A setting of the desk."""

    __tablename__ = "settings"
    name: Mapped[str] = mapped_column(primary_key=True)
    value: Mapped[Any] = mapped_column(JSON_TYPE)


class Digest(Row):
    """Figures worked out from a player's putts, kept until ``figures_version`` of the player moves on."""

    __tablename__ = "digests"
    player_id: Mapped[UUID] = mapped_column(ForeignKey("players.id"), primary_key=True)
    kind: Mapped[str] = mapped_column(primary_key=True)
    figures_version: Mapped[int]
    pacewright_version: Mapped[str]
    body: Mapped[Body]
