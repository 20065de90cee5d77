"""Which reader reads a file: each looks at the first bytes and says how sure it is.

`docs/extend-readers.md` shows how to add one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import BinaryIO, Protocol

from pacewright.core.errors import ReadError
from pacewright.core.recording import Provenance, Recording
from pacewright.readers.options import ReadOptions

HEAD_BYTES = 65_536
"""How much of a file the readers see when they are asked whether they know it; more when a text does not
show its first rows in that."""

PLUGIN_GROUP = "pacewright.readers"
"""Entry points of this group, in installed packages, name further readers."""


@dataclass(frozen=True, slots=True)
class Source:
    """A file that is being read: its name for messages and provenance, its size and hash."""

    name: str
    size_bytes: int
    sha256: str

    def error(self, text: str) -> ReadError:
        """A ReadError that starts with the file's name."""
        return ReadError(f"{self.name}: {text}")

    def provenance(self, reader: str, options: ReadOptions) -> Provenance:
        """Where the recording came from, with the options it was read with."""
        return Provenance(self.name, self.sha256, reader, options.settings())


class Reader(Protocol):
    """Makes a Recording of one kind of file."""

    @property
    def name(self) -> str:
        """Short name, kept in the provenance of what it reads."""

    def recognises(self, head: bytes, options: ReadOptions) -> float:
        """How sure the reader is, 0 (not mine) to 1, from the file's first bytes; must not raise."""

    def read(self, stream: BinaryIO, source: Source, options: ReadOptions) -> Recording:
        """The whole file from ``stream``, which is seekable and at its start.

        Raises ReadError that names file and place.
        """


_readers: list[Reader] = []


def register(reader: Reader) -> Reader:
    """Add a reader; one of the same name is replaced. Returns the reader."""
    _readers[:] = [known for known in _readers if known.name != reader.name]
    _readers.append(reader)
    return reader


def registered() -> tuple[Reader, ...]:
    """Every reader known so far."""
    return tuple(_readers)


def choose(head: bytes, options: ReadOptions) -> Reader | None:
    """The reader that is surest of the file, or None when none knows it.

    Readers of other packages are asked only when no reader at hand knows the file: looking them up
    costs time at each start.
    """
    return _surest(head, options) or (_surest(head, options) if _load_plugins() else None)


def _surest(head: bytes, options: ReadOptions) -> Reader | None:
    sureness = {reader.name: reader.recognises(head, options) for reader in _readers}
    best = max(_readers, key=lambda reader: sureness[reader.name], default=None)
    return best if best is not None and sureness[best.name] > 0.0 else None


def _load_plugins() -> bool:
    """Register the readers that installed packages offer; True when there is a new one."""
    from importlib.metadata import entry_points

    known = {reader.name for reader in _readers}
    offered: list[Reader] = [point.load() for point in entry_points(group=PLUGIN_GROUP)]
    fresh = [reader for reader in offered if reader.name not in known]
    for reader in fresh:
        register(reader)
    return bool(fresh)
