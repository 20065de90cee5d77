"""Recordings on disk under the hash of their content, and files on their way in.

A file is in the store once it lies under its hash: it is written beside its place, forced to disk, moved
there in one step, and the folder is forced to disk too. So there is never half a recording, and the same
recording
lies there once however often it came.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import re
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO
from uuid import UUID, uuid4

from pacewright.core.errors import LimitError, RecordError

BLOCK = 1 << 20
SPARE_DISK_BYTES = 200 << 20
"""No upload is begun that would leave the disk with less."""
_HASH = re.compile(r"^[0-9a-f]{64}$")


class FileStore:
    """The folders ``files`` (by hash) and ``incoming`` (pieces of uploads) of a data folder."""

    def __init__(self, data_dir: Path) -> None:
        self.root = data_dir / "files"
        self.incoming = data_dir / "incoming"
        self.root.mkdir(parents=True, exist_ok=True)
        self.incoming.mkdir(parents=True, exist_ok=True)
        self._checked: dict[str, tuple[int, int]] = {}

    def place(self, sha256: str) -> Path:
        """Where a file of that hash lies or would lie. Raises RecordError for what is no hash."""
        if not _HASH.match(sha256):
            raise RecordError("That is not the hash of a recording.")
        return self.root / sha256[:2] / sha256

    def has(self, sha256: str) -> bool:
        """Whether a file of that hash is there."""
        return self.place(sha256).is_file()

    def checked(self, sha256: str) -> Path:
        """The path of a file that still has its hash. Raises RecordError when it is gone or damaged."""
        path = self.place(sha256)
        try:
            state = path.stat()
        except OSError:
            raise RecordError(
                f"The recording {sha256[:12]}… is missing from the data folder; restore it from a backup."
            ) from None
        mark = (state.st_size, state.st_mtime_ns)
        if self._checked.get(sha256) != mark:
            if hash_file(path) != sha256:
                raise RecordError(
                    f"The recording {sha256[:12]}… on disk is damaged: its content does not have its hash "
                    "any more; restore it from a backup."
                )
            self._checked[sha256] = mark
        return path

    def put(self, blocks: Iterable[bytes], *, expected: str | None = None, most: int | None = None) -> str:
        """Store a stream of blocks and return its hash.

        Raises RecordError when the hash is not the ``expected`` one, LimitError beyond ``most`` bytes.
        """
        part = self.incoming / f"{uuid4().hex}.tmp"
        digest, size = hashlib.sha256(), 0
        try:
            with part.open("wb") as stream:
                for block in blocks:
                    size += len(block)
                    if most is not None and size > most:
                        raise LimitError(f"The file is larger than {most / 1e6:,.0f} MB.")
                    digest.update(block)
                    stream.write(block)
                stream.flush()
                os.fsync(stream.fileno())
            sha256 = digest.hexdigest()
            if expected is not None and sha256 != expected:
                raise RecordError("The content does not have the hash that was stated; send it again.")
            self._move_in(part, sha256)
        finally:
            part.unlink(missing_ok=True)
        return sha256

    def remove(self, sha256: str) -> bool:
        """Remove a file; whether it was there."""
        path = self.place(sha256)
        self._checked.pop(sha256, None)
        if not path.is_file():
            return False
        path.unlink()
        _sync_folder(path.parent)
        return True

    def all_hashes(self) -> Iterator[str]:
        """The hashes of all files in the store."""
        for path in self.root.glob("??/*"):
            if _HASH.match(path.name):
                yield path.name

    def part(self, upload_id: UUID) -> Path:
        """The file into which the pieces of an upload go."""
        return self.incoming / f"{upload_id.hex}.part"

    @contextmanager
    def held(self, upload_id: UUID) -> Iterator[None]:
        """One process at a time adds to an upload."""
        with (self.incoming / f"{upload_id.hex}.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            yield

    def append(self, upload_id: UUID, offset: int, piece: bytes) -> int:
        """Write a piece at ``offset`` and force it to disk; returns where the next one goes.

        What lay beyond the offset was never acknowledged and is cut off. Raises RecordError when bytes before
        the offset are missing.
        """
        path = self.part(upload_id)
        with open(path, "r+b" if path.exists() else "w+b") as stream:
            stream.seek(0, os.SEEK_END)
            if stream.tell() < offset:
                raise RecordError(
                    "The part of the file that came before is missing on disk; begin the upload again."
                )
            stream.truncate(offset)
            stream.seek(offset)
            stream.write(piece)
            stream.flush()
            os.fsync(stream.fileno())
        if offset == 0:
            _sync_folder(self.incoming)
        return offset + len(piece)

    def finish(self, upload_id: UUID, sha256: str) -> None:
        """Move a whole upload to its place. Once it is there, doing it again changes nothing."""
        path = self.part(upload_id)
        if path.exists():
            self._move_in(path, sha256)
        elif not self.has(sha256):
            raise RecordError("The uploaded file is missing on disk; begin the upload again.")

    def discard(self, upload_id: UUID) -> None:
        """Forget an upload."""
        self.part(upload_id).unlink(missing_ok=True)
        (self.incoming / f"{upload_id.hex}.lock").unlink(missing_ok=True)

    def check_room(self, size: int) -> None:
        """Raise LimitError when the disk has no room for ``size`` more bytes."""
        if shutil.disk_usage(self.root).free - size < SPARE_DISK_BYTES:
            raise LimitError(
                "There is not enough room on the disk for this file; make room, then send it again."
            )

    def tidy(self, open_uploads: Iterable[UUID]) -> int:
        """Remove temporary files that a stopped process left behind; returns how many.

        Call it when no other process writes here: at the start.
        """
        wanted = {self.part(upload).name for upload in open_uploads}
        removed = 0
        for path in self.incoming.iterdir():
            if path.name in wanted:
                continue
            if path.is_dir():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink()
            removed += 1
        return removed

    def _move_in(self, part: Path, sha256: str) -> None:
        place = self.place(sha256)
        if not place.parent.is_dir():
            place.parent.mkdir(exist_ok=True)
            _sync_folder(self.root)
        os.replace(part, place)
        _sync_folder(place.parent)


def hash_file(path: Path) -> str:
    """The SHA-256 of a file, in hexadecimal."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def blocks_of(stream: BinaryIO) -> Iterator[bytes]:
    """A stream in blocks."""
    while block := stream.read(BLOCK):
        yield block


@contextmanager
def written_whole(path: Path) -> Iterator[Path]:
    """A path to write to; at the end of the block it is forced to disk and takes the place of ``path``."""
    part = path.with_name(f".{path.name}.{os.getpid()}.{uuid4().hex[:8]}.tmp")
    try:
        yield part
        with part.open("rb") as stream:
            os.fsync(stream.fileno())
        os.replace(part, path)
        _sync_folder(path.parent)
    finally:
        part.unlink(missing_ok=True)


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
