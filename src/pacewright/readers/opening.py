"""`read`: opens a file or takes a stream, finds the reader, and returns the Recording."""

from __future__ import annotations

import hashlib
import io
import os
from pathlib import Path
from typing import IO, BinaryIO, cast

from pacewright.core.errors import ReadError
from pacewright.core.recording import Recording
from pacewright.readers import builtin
from pacewright.readers.options import ReadOptions
from pacewright.readers.profiles import with_profile
from pacewright.readers.registry import Source, choose
from pacewright.readers.table import read_head

_HASH_BLOCK = 1 << 20


def read(
    path_or_stream: str | os.PathLike[str] | IO[bytes] | IO[str],
    options: ReadOptions | None = None,
    *,
    name: str | None = None,
) -> Recording:
    """The recording in a file (path) or in a stream (bytes or text, seekable or not).

    ``name`` stands for a stream in messages and provenance. Raises ReadError when the file cannot be
    read as a recording (it names the file and the place) and SettingsError when an option makes no sense.
    """
    options = with_profile(options or ReadOptions())
    if isinstance(path_or_stream, str | os.PathLike):
        path = Path(path_or_stream)
        try:
            with path.open("rb") as stream:
                return _read_stream(stream, name or str(path), options)
        except OSError as error:
            raise ReadError(f"{path}: cannot be opened: {error.strerror or error}.") from error
    stream_name = name or str(getattr(path_or_stream, "name", "stream"))
    return _read_stream(_as_seekable_bytes(path_or_stream), stream_name, options)


def _as_seekable_bytes(stream: IO[bytes] | IO[str]) -> BinaryIO:
    if isinstance(stream, io.TextIOBase):
        return io.BytesIO(stream.read().encode("utf-8"))
    binary = cast(BinaryIO, stream)
    return binary if binary.seekable() else io.BytesIO(binary.read())


def _read_stream(stream: BinaryIO, name: str, options: ReadOptions) -> Recording:
    start = stream.tell()
    digest, size = hashlib.sha256(), 0
    while block := stream.read(_HASH_BLOCK):
        digest.update(block)
        size += len(block)
    stream.seek(start)
    if size == 0:
        raise ReadError(f"{name}: the file is empty; there is nothing to read.")
    head = read_head(stream)
    source = Source(name, size, digest.hexdigest())
    reader = choose(head, options)
    if reader is None:
        raise source.error(builtin.why_unknown(head, size, options))
    return reader.read(stream, source, options)
