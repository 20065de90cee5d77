"""Files on their way in, in pieces; and recordings that are there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path, PurePath
from typing import Any, BinaryIO
from uuid import UUID

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk import convert
from pacewright.app.desk.consents import require
from pacewright.app.desk.context import Context, alive
from pacewright.app.desk.filekinds import kind_of
from pacewright.app.desk.hearing import heard_in_session
from pacewright.app.desk.jobs import ANALYSE, queue
from pacewright.app.desk.reading import check_settings
from pacewright.app.desk.views import JobView, RecordingView, UndoView, UploadView
from pacewright.core.errors import ConflictError, LimitError, RecordError, SettingsError
from pacewright.records import undo
from pacewright.records.files import blocks_of, hash_file
from pacewright.records.schema import Analysis, Job, Player, Recording, Session, Stroke, Upload
from pacewright.records.schema.base import now

LARGEST_RECORDING = 4 << 30
LARGEST_PIECE = 16 << 20
OPEN_UPLOADS = 32
"""Uploads of one session that may be on their way at once."""
FORGOTTEN_AFTER = dt.timedelta(days=7)


class Uploads:
    """Resumable uploads. A piece is acknowledged once it is safe on disk; whoever was cut off asks `get` for
    ``received`` and goes on from there."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def begin(
        self,
        session_id: UUID,
        name: str,
        size: int,
        *,
        sha256: str | None = None,
        asked_m: float | None = None,
        settings: Mapping[str, Any] | None = None,
    ) -> UploadView:
        """Begin a file of ``size`` bytes. ``settings`` are `ReadOptions` by name (left_handed, rate_hz, …).

        Raises ConsentError before the player (and the guardian of a minor) has agreed to recording,
        LimitError for a file that is too large or one too many.
        """
        name = clean_name(name)
        if not 0 < size <= LARGEST_RECORDING:
            raise LimitError(
                f"A recording has at most {LARGEST_RECORDING / 1e9:.1f} GB; '{name}' has {size} bytes."
            )
        told = check_settings(settings or {}, asked_m)
        self._context.files.check_room(size)
        with self._context.write() as transaction:
            session = self._context.get(transaction, Session, session_id, "session")
            require(
                transaction, self._context.get(transaction, Player, session.player_id, "player"), "recording"
            )
            return convert.upload(new_upload(transaction, session, name, size, sha256, told))

    def get(self, upload_id: UUID) -> UploadView:
        """How far an upload has come. Raises NotFoundError."""
        with self._context.read() as transaction:
            return convert.upload(self._context.get(transaction, Upload, upload_id, "upload"))

    def of_session(self, session_id: UUID) -> tuple[UploadView, ...]:
        """The uploads of a session that are not finished, so that they can go on."""
        with self._context.read() as transaction:
            self._context.get(transaction, Session, session_id, "session")
            found = transaction.scalars(
                select(Upload).where(Upload.session_id == session_id).order_by(Upload.id)
            )
            return tuple(convert.upload(row) for row in found)

    def append(self, upload_id: UUID, offset: int, piece: bytes) -> UploadView:
        """Put a piece at ``offset``, which must be what was received so far; returns when it is safe on disk.

        Raises ConflictError when the offset is another: ask `get` and go on from ``received``.
        """
        if len(piece) > LARGEST_PIECE:
            raise LimitError(f"A piece has at most {LARGEST_PIECE >> 20} MB.")
        files = self._context.files
        # Held per upload, not over the database: others write while this piece is forced to disk.
        with files.held(upload_id):
            with self._context.read() as transaction:
                row = self._context.get(transaction, Upload, upload_id, "upload")
            if offset != row.received or row.is_complete:
                raise ConflictError(f"{row.received} bytes of '{row.name}' are here; go on from there.")
            if offset + len(piece) > row.size:
                raise LimitError(f"'{row.name}' was announced with {row.size} bytes; this piece goes beyond.")
            received = files.append(row.id, offset, piece)
            with self._context.write() as transaction:
                row = self._context.get(transaction, Upload, upload_id, "upload")
                row.received, row.touched_at = received, now()
                return convert.upload(row)

    def finish(self, upload_id: UUID, *, analyse: bool = True) -> RecordingView:
        """Make a recording of a whole upload and queue its analysis. Doing it again gives the same recording.

        Raises ConflictError while bytes are missing, RecordError when the hash is not the announced one,
        FileKindError for a file that is no recording.
        """
        with self._context.write() as transaction:
            there = transaction.get(Recording, upload_id)
            if there is not None:
                return recording_views(
                    transaction, [self._context.get(transaction, Recording, upload_id, "recording")]
                )[0]
            row = self._context.get(transaction, Upload, upload_id, "upload")
            if row.received != row.size:
                raise ConflictError(
                    f"{row.received} of {row.size} bytes of '{row.name}' are here; send the rest."
                )
        sha256 = self._hash(row)
        with self._context.write() as transaction:
            row = transaction.get(Upload, upload_id, with_for_update=True) or row
            row.sha256, row.is_complete = sha256, True
        self._context.files.finish(upload_id, sha256)
        with self._context.write() as transaction:
            return recording_views(
                transaction, [keep_upload(self._context, transaction, upload_id, analyse)]
            )[0]

    def cancel(self, upload_id: UUID) -> None:
        """Forget an upload that is not finished."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, Upload, upload_id, "upload")
            transaction.delete(row)
        self._context.files.discard(upload_id)

    def _hash(self, row: Upload) -> str:
        part = self._context.files.part(row.id)
        if not part.exists():
            if row.is_complete and row.sha256 is not None and self._context.files.has(row.sha256):
                return row.sha256
            raise RecordError(f"'{row.name}' is missing on disk; begin the upload again.")
        sha256 = hash_file(part)
        if row.sha256 is not None and row.sha256 != sha256:
            raise RecordError(
                f"'{row.name}' does not have the hash that was announced; begin the upload again."
            )
        with part.open("rb") as stream:
            kind_of(stream.read(4096), row.name)
        return sha256


class Recordings:
    """The recordings of sessions."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def add(
        self,
        session_id: UUID,
        name: str,
        stream: BinaryIO,
        *,
        asked_m: float | None = None,
        settings: Mapping[str, Any] | None = None,
        analyse: bool = True,
    ) -> RecordingView:
        """Keep a file that comes in one go (a form of the browser) and queue its analysis.

        Raises as `Uploads.begin` and `Uploads.finish` do.
        """
        name = clean_name(name)
        told = check_settings(settings or {}, asked_m)
        with self._context.write() as transaction:
            session = self._context.get(transaction, Session, session_id, "session")
            require(
                transaction, self._context.get(transaction, Player, session.player_id, "player"), "recording"
            )
        blocks = blocks_of(stream)
        head = next(blocks, b"")
        kind = kind_of(head, name)
        sha256 = self._context.files.put(with_head(head, blocks), most=LARGEST_RECORDING)
        with self._context.write() as transaction:
            session = self._context.get(transaction, Session, session_id, "session")
            row = Recording(
                player_id=session.player_id, session_id=session_id, sha256=sha256, kind=kind, name=name,
                size=self._context.files.place(sha256).stat().st_size, asked_m=told.pop("asked_m", None),
                settings=told,
            )  # fmt: skip
            keep(self._context, transaction, row, analyse)
            return recording_views(transaction, [row])[0]

    def get(self, recording_id: UUID) -> RecordingView:
        """A recording with its newest analysis and job. Raises NotFoundError."""
        with self._context.read() as transaction:
            row = self._context.get(transaction, Recording, recording_id, "recording")
            return recording_views(transaction, [row])[0]

    def of_session(self, session_id: UUID) -> tuple[RecordingView, ...]:
        """The recordings of a session, oldest first: four queries however many they are."""
        with self._context.read() as transaction:
            self._context.get(transaction, Session, session_id, "session")
            rows = transaction.scalars(
                select(Recording)
                .where(Recording.session_id == session_id, alive(Recording))
                .order_by(Recording.id)
            )
            return tuple(recording_views(transaction, list(rows)))

    def heard(self, session_id: UUID) -> dict[UUID, Mapping[str, Any]]:
        """What was heard in the sounds of a session, in the words of ``listen --json``, by recording."""
        with self._context.read() as transaction:
            self._context.get(transaction, Session, session_id, "session")
            return heard_in_session(transaction, session_id)

    def path(self, recording_id: UUID, *, check: bool = True) -> Path:
        """Where the file lies; its content is checked against its hash unless ``check`` is off.

        Raises RecordError when it is missing or damaged.
        """
        with self._context.read() as transaction:
            row = self._context.get(transaction, Recording, recording_id, "recording")
        return self._context.files.checked(row.sha256) if check else self._context.files.place(row.sha256)

    def analyse(
        self, recording_id: UUID, *, asked_m: float | None = None, settings: Mapping[str, Any] | None = None
    ) -> JobView:
        """Queue a new analysis, with other settings where they are given; the old analysis is kept."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, Recording, recording_id, "recording")
            if asked_m is not None or settings is not None:
                told = check_settings(row.settings if settings is None else settings, asked_m)
                row.asked_m = told.pop("asked_m", row.asked_m)
                row.settings = told
            self._context.log(transaction, "analyse", "recording", row.id, row.player_id)
            return convert.job(
                queue(
                    transaction,
                    ANALYSE,
                    player_id=row.player_id,
                    session_id=row.session_id,
                    recording_id=row.id,
                )
            )

    def delete(self, recording_id: UUID) -> UndoView:
        """Delete a recording with its analyses and strokes; it can be taken back."""
        with self._context.write() as transaction:
            row = self._context.get(transaction, Recording, recording_id, "recording")
            step, rows = undo.delete(transaction, row, self._context.actor.name)
            self._context.figures_changed(transaction, row.player_id)
            self._context.log(transaction, "delete", "recording", recording_id, row.player_id, rows=rows)
            return convert.undo_step(step, rows)


def new_upload(
    transaction: Transaction,
    session: Session,
    name: str,
    size: int,
    sha256: str | None,
    told: Mapping[str, Any],
) -> Upload:
    """A row for a file on its way in. Raises LimitError when too many are open already."""
    count = transaction.scalar(
        select(func.count()).select_from(Upload).where(Upload.session_id == session.id)
    )
    if (count or 0) >= OPEN_UPLOADS:
        raise LimitError(f"{OPEN_UPLOADS} files of this session are on their way already; finish some first.")
    row = Upload(
        player_id=session.player_id, session_id=session.id, name=name, size=size, sha256=sha256,
        settings=dict(told), touched_at=now(),
    )  # fmt: skip
    transaction.add(row)
    transaction.flush()
    return row


def keep_upload(context: Context, transaction: Transaction, upload_id: UUID, analyse: bool) -> Recording:
    """The recording of an upload whose file is in the store; it takes over the upload's id."""
    there = transaction.get(Recording, upload_id)
    if there is not None:
        return there
    upload = transaction.get(Upload, upload_id, with_for_update=True)
    if upload is None or upload.sha256 is None:
        raise ConflictError("This upload was finished or cancelled meanwhile.")
    told = dict(upload.settings)
    with context.files.place(upload.sha256).open("rb") as stream:
        kind = kind_of(stream.read(4096), upload.name)
    row = Recording(
        id=upload.id, player_id=upload.player_id, session_id=upload.session_id, sha256=upload.sha256,
        size=upload.size, kind=kind, name=upload.name, asked_m=told.pop("asked_m", None), settings=told,
    )  # fmt: skip
    transaction.delete(upload)
    keep(context, transaction, row, analyse)
    return row


def keep(context: Context, transaction: Transaction, row: Recording, analyse: bool) -> None:
    """Keep a recording whose file is in the store, and queue its analysis."""
    transaction.add(row)
    transaction.flush()
    context.log(transaction, "create", "recording", row.id, row.player_id)
    if analyse:
        queue(transaction, ANALYSE, player_id=row.player_id, session_id=row.session_id, recording_id=row.id)


def recording_views(transaction: Transaction, rows: list[Recording]) -> list[RecordingView]:
    """Recordings with newest analysis, count of strokes and newest job: three queries."""
    ids = [row.id for row in rows]
    analyses = {
        row.recording_id: row.id
        for row in transaction.execute(
            select(Analysis.recording_id, Analysis.id).where(
                Analysis.recording_id.in_(ids), Analysis.superseded_by.is_(None), alive(Analysis)
            )
        )
    }
    strokes: dict[UUID, int] = {
        row.recording_id: row.strokes
        for row in transaction.execute(
            select(Stroke.recording_id, func.count().label("strokes"))
            .where(Stroke.recording_id.in_(ids), Stroke.is_current, alive(Stroke))
            .group_by(Stroke.recording_id)
        )
    }
    jobs = {
        job.recording_id: job
        for job in transaction.scalars(select(Job).where(Job.recording_id.in_(ids)).order_by(Job.id))
    }
    return [
        convert.recording(row, analyses.get(row.id), strokes.get(row.id, 0), jobs.get(row.id)) for row in rows
    ]


def tidy(context: Context) -> int:
    """Forget uploads that nobody went on with, and remove files that nobody finished; returns how many."""
    with context.database.write() as transaction:
        transaction.execute(delete(Upload).where(Upload.touched_at < now() - FORGOTTEN_AFTER))
        going_on = list(transaction.scalars(select(Upload.id)))
    unfinished = list((context.data_dir / "backups").glob(".*.tmp"))
    for path in unfinished:
        path.unlink(missing_ok=True)
    return context.files.tidy(going_on) + len(unfinished)


def clean_name(name: str) -> str:
    """A file's own name without folders. Raises SettingsError when nothing is left."""
    last = PurePath(name.replace("\\", "/")).name.strip()
    last = "".join(c for c in last if c.isprintable())[:200]
    if last in ("", ".", ".."):
        raise SettingsError("The file has no name.")
    return last


def with_head(head: bytes, blocks: Iterable[bytes]) -> Iterable[bytes]:
    """The blocks of a stream whose first was looked at."""
    yield head
    yield from blocks
