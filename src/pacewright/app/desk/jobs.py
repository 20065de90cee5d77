"""Jobs: work outside the request, kept in the database so that it survives a restart."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk import convert
from pacewright.app.desk.context import Context, alive
from pacewright.app.desk.views import JobView
from pacewright.core.errors import ConflictError
from pacewright.core.measure import Measure
from pacewright.records.schema import Analysis, Job, MeasuredStroke, Player, Session
from pacewright.records.schema.base import now

ANALYSE = "analyse"
FIGURES = "figures"
"""Work out the figures of a player's story anew."""
DEMO_CLUB = "demo-club"
"""Make the invented club at a desk that has no players."""
OPEN = ("queued", "running")
MOST_ATTEMPTS = 3
HEARTBEAT_S = 1.0
LOST_AFTER_S = 60.0
"""A running job whose worker has said nothing for so long has lost it."""
STUCK_AFTER_S = 600.0
"""A running job that has made no progress for so long is ended."""


@dataclass(frozen=True, slots=True)
class MeasuredView:
    """A stroke of an analysis that still runs."""

    number: int
    kind: str
    asked_m: float | None
    measures: Mapping[str, Measure]


class Jobs:
    """The jobs of the desk. The workers that do them are `workers.Workers`."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def get(self, job_id: UUID) -> JobView:
        """A job. Raises NotFoundError."""
        with self._context.read() as transaction:
            return convert.job(self._context.get(transaction, Job, job_id, "job"))

    def of_session(self, session_id: UUID) -> tuple[JobView, ...]:
        """The jobs of a session, newest first, at most 200."""
        with self._context.read() as transaction:
            self._context.get(transaction, Session, session_id, "session")
            statement = select(Job).where(Job.session_id == session_id)
            return tuple(
                convert.job(row) for row in transaction.scalars(statement.order_by(Job.id.desc()).limit(200))
            )

    def measured(self, session_id: UUID) -> tuple[MeasuredView, ...]:
        """The strokes that running jobs have measured so far, in recordings that have no analysis yet."""
        with self._context.read() as transaction:
            self._context.get(transaction, Session, session_id, "session")
            return measured_in_session(transaction, session_id)

    def open(self) -> tuple[JobView, ...]:
        """Jobs that wait or run, oldest first, at most 200."""
        self._context.must_be("coach", "assistant")
        with self._context.read() as transaction:
            return tuple(convert.job(row) for row in jobs_in(transaction, OPEN, limit=200))

    def cancel(self, job_id: UUID) -> JobView:
        """Cancel a job: at once while it waits, within some seconds while it runs."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, Job, job_id, "job")
            if row.state == "queued":
                row.state, row.ended_at = "cancelled", now()
            elif row.state == "running":
                row.cancel_asked = True
            self._context.log(transaction, "cancel", "job", job_id, row.player_id)
            return convert.job(row)

    def order_demo_club(self) -> JobView:
        """Have a worker make the demo club; for the coach. While that waits or runs, it is not queued again.

        Raises ConflictError when there are players.
        """
        self._context.must_be("coach")
        with self._context.write() as transaction:
            same = select(Job).where(Job.kind == DEMO_CLUB, Job.state.in_(OPEN)).limit(1)
            row = transaction.scalar(same)
            if row is None:
                if transaction.scalar(select(Player.id).where(Player.deleted_step.is_(None)).limit(1)):
                    raise ConflictError("There are players here already; the demo club wants an empty desk.")
                row = queue(transaction, DEMO_CLUB)
                self._context.log(transaction, "create", "demo club", None)
            return convert.job(row)

    def of_demo_club(self) -> JobView | None:
        """The newest job that makes the demo club; None when there was none."""
        with self._context.read() as transaction:
            row = transaction.scalar(
                select(Job).where(Job.kind == DEMO_CLUB).order_by(Job.id.desc()).limit(1)
            )
            return None if row is None else convert.job(row)

    def retry(self, job_id: UUID) -> JobView:
        """Queue the work of an ended job again, as a new job. Raises ConflictError while it is open."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, Job, job_id, "job")
            if row.state in OPEN:
                raise ConflictError("This job still waits or runs.")
            again = queue(
                transaction, row.kind, player_id=row.player_id, session_id=row.session_id,
                recording_id=row.recording_id, payload=row.payload,
            )  # fmt: skip
            return convert.job(again)


def queue(
    transaction: Transaction,
    kind: str,
    *,
    player_id: UUID | None = None,
    session_id: UUID | None = None,
    recording_id: UUID | None = None,
    payload: dict[str, Any] | None = None,
) -> Job:
    """Queue work within a transaction: it is there when the transaction is, or not at all."""
    row = Job(
        kind=kind,
        player_id=player_id,
        session_id=session_id,
        recording_id=recording_id,
        payload=payload or {},
    )
    transaction.add(row)
    transaction.flush()
    return row


def jobs_in(
    transaction: Transaction,
    states: Sequence[str],
    *,
    limit: int,
    newest_first: bool = False,
    ended_after: dt.datetime | None = None,
) -> list[Job]:
    """Jobs in any of those states, in the order queued."""
    order = Job.id.desc() if newest_first else Job.id.asc()
    found: list[Job] = []
    # A look into the index for each state: asked for several at once, SQLite reads every job there ever was.
    for state in states:
        statement = select(Job).where(Job.state == state).order_by(order).limit(limit)
        if ended_after is not None:
            statement = statement.where(Job.ended_at > ended_after)
        found += transaction.scalars(statement)
    return sorted(found, key=lambda row: row.id, reverse=newest_first)[:limit]


def queue_once(transaction: Transaction, kind: str, player_id: UUID) -> None:
    """Queue work on a player unless the same waits already."""
    same = select(Job.id).where(Job.state == "queued", Job.kind == kind, Job.player_id == player_id).limit(1)
    if transaction.scalar(same) is None:
        queue(transaction, kind, player_id=player_id)


def claim(context: Context, worker: str, pid: int) -> Job | None:
    """Take the oldest job that waits; None when there is none. No two workers ever get the same."""
    waiting = select(Job.id).where(Job.state == "queued").order_by(Job.id).limit(1)
    with context.database.read() as transaction:
        if transaction.scalar(waiting) is None:
            return None
    with context.database.write() as transaction:
        # SQLite has one writer, so nobody else claims now; PostgreSQL passes over rows that others hold.
        job_id = transaction.scalar(waiting.with_for_update(skip_locked=True))
        if job_id is None:
            return None
        moment = now()
        changed = transaction.execute(
            update(Job)
            .where(Job.id == job_id, Job.state == "queued")
            .values(
                state="running", worker=worker, worker_pid=pid, started_at=moment, heartbeat_at=moment,
                progress_at=moment, progress=0.0, attempts=Job.attempts + 1, error="",
            )
            .returning(Job.id)
        ).scalar()  # fmt: skip
        forget_measured(transaction, job_id)
        return None if changed is None else transaction.get(Job, changed, populate_existing=True)


def beat(context: Context, job_id: UUID, worker: str, progress: float) -> bool:
    """Say that a job is alive and how far it is. False when it is to be given up."""
    with context.database.write() as transaction:
        row = transaction.get(Job, job_id, with_for_update=True)
        if row is None or row.state != "running" or row.worker != worker:
            return False
        row.heartbeat_at = now()
        if progress > row.progress:
            row.progress, row.progress_at = min(progress, 1.0), row.heartbeat_at
        return not row.cancel_asked


def is_ours(transaction: Transaction, job_id: UUID, worker: str) -> Job | None:
    """The job, locked, if ``worker`` still holds it: what a job writes goes in with this check."""
    row = transaction.get(Job, job_id, with_for_update=True)
    return row if row is not None and row.state == "running" and row.worker == worker else None


def end(context: Context, job_id: UUID, worker: str, state: str, error: str = "") -> None:
    """End a job that wrote nothing: failed or cancelled."""
    with context.database.write() as transaction:
        row = is_ours(transaction, job_id, worker)
        if row is not None:
            row.state, row.error, row.ended_at = state, error, now()
            forget_measured(transaction, job_id)


def measured_in_session(transaction: Transaction, session_id: UUID) -> tuple[MeasuredView, ...]:
    """What running jobs have measured in recordings that have no analysis yet, in the order of time."""
    analysed = select(Analysis.recording_id).where(Analysis.session_id == session_id, alive(Analysis))
    rows = transaction.scalars(
        select(MeasuredStroke)
        .join(Job, Job.id == MeasuredStroke.job_id)
        .where(MeasuredStroke.session_id == session_id, Job.recording_id.not_in(analysed))
        .order_by(MeasuredStroke.job_id, MeasuredStroke.number)
    )
    return tuple(
        MeasuredView(row.number, row.kind, row.asked_m, convert.measures(row.measures)) for row in rows
    )


def forget_measured(transaction: Transaction, job_id: UUID) -> None:
    """Remove what a job has measured so far (`measured.HandOver`): it has ended, or begins anew."""
    transaction.execute(delete(MeasuredStroke).where(MeasuredStroke.job_id == job_id))


def recover(
    context: Context, *, lost_workers: frozenset[str] = frozenset(), silent_s: float = LOST_AFTER_S
) -> int:
    """Queue again what lost its worker: those named, and any that has been silent for ``silent_s``.

    A job that lost three workers has failed, and says so. Returns how many jobs were touched.
    """
    limit = now() - dt.timedelta(seconds=silent_s)
    touched = 0
    with context.database.write() as transaction:
        for row in transaction.scalars(select(Job).where(Job.state == "running").with_for_update()):
            silent = row.heartbeat_at is None or row.heartbeat_at < limit
            if not silent and row.worker not in lost_workers:
                continue
            touched += 1
            forget_measured(transaction, row.id)
            row.worker = row.worker_pid = None
            if row.cancel_asked:
                row.state, row.ended_at = "cancelled", now()
            elif row.attempts >= MOST_ATTEMPTS:
                row.state, row.ended_at = "failed", now()
                row.error = (
                    f"The work was broken off {row.attempts} times; it may be too much for this machine."
                )
            else:
                row.state = "queued"
    return touched


def stuck(context: Context, *, after_s: float = STUCK_AFTER_S) -> list[tuple[str, int]]:
    """End jobs that make no progress, and those that were asked to stop and did not.

    Returns the (worker, process id) that hang in them, to be ended by whoever started them.
    """
    moment = now()
    hanging = []
    with context.database.write() as transaction:
        for row in transaction.scalars(select(Job).where(Job.state == "running").with_for_update()):
            still = moment - (row.progress_at or row.started_at or moment)
            if still.total_seconds() < (min(after_s, 10.0) if row.cancel_asked else after_s):
                continue
            row.state = "cancelled" if row.cancel_asked else "stuck"
            row.error = (
                ""
                if row.cancel_asked
                else (f"No progress for {still.total_seconds():.0f} s, so it was ended. Try again.")
            )
            row.ended_at = moment
            forget_measured(transaction, row.id)
            if row.worker is not None and row.worker_pid is not None:
                hanging.append((row.worker, row.worker_pid))
    return hanging
