"""Strokes of an analysis that still runs: written as they are measured, for whoever watches.

What a job leaves for good is written whole in the transaction that ends it (`analysis.write_analysis`), so
these rows may go at any moment: when the job is done, cancelled, stuck, broken off or begun anew.
"""

from __future__ import annotations

import contextlib
import time

from sqlalchemy.exc import SQLAlchemyError

from pacewright.app.desk import convert
from pacewright.app.desk.context import Context
from pacewright.app.desk.jobs import is_ours
from pacewright.core.stroke import Stroke
from pacewright.records.schema import Job, MeasuredStroke

HAND_OVER_S = 0.25
"""Strokes that come faster are written together: nobody could tell, and each write waits for the disk."""


class HandOver:
    """Writes the strokes of a job as they come. Call it with each stroke, in the job's own thread."""

    def __init__(self, context: Context, job: Job) -> None:
        self._context, self._job = context, job
        self._waiting: list[MeasuredStroke] = []
        self._count, self._wrote_at = 0, -float("inf")

    def __call__(self, stroke: Stroke) -> None:
        """Take a stroke; it is on the page within `HAND_OVER_S` of the next one, or at once."""
        job = self._job
        assert job.player_id is not None
        assert job.session_id is not None
        self._waiting.append(
            MeasuredStroke(
                job_id=job.id, number=self._count, player_id=job.player_id, session_id=job.session_id,
                kind=stroke.kind, asked_m=stroke.asked_length_m,
                measures=convert.measures_body(stroke.measures),
            )
        )  # fmt: skip
        self._count += 1
        if time.monotonic() - self._wrote_at >= HAND_OVER_S:
            # Whoever watches sees a little less when the database is busy; the analysis goes on.
            with contextlib.suppress(SQLAlchemyError):
                self._write()

    def _write(self) -> None:
        with self._context.database.write() as transaction:
            if is_ours(transaction, self._job.id, str(self._job.worker)) is not None:
                transaction.add_all(self._waiting)
        self._waiting, self._wrote_at = [], time.monotonic()
