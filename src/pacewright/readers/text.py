"""Text in whatever encoding, as blocks of whole lines of plain bytes.

Everything after this layer works on bytes in which digits, separators and line ends are ASCII: UTF-16 is
re-encoded as UTF-8, byte-order marks are dropped, and every line ends with one ``\\n``.
"""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

BLOCK_BYTES = 4 << 20
"""Bytes read at a time: bounds the memory that text needs beside its numbers."""

_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_CONTROL = bytes(set(range(32)) - set(b"\t\n\r\f")) + b"\x7f"


@dataclass(frozen=True, slots=True)
class Encoding:
    """Name of a codec and how many bytes of byte-order mark stand before the text."""

    codec: str
    mark_bytes: int

    @property
    def is_wide(self) -> bool:
        """Whether characters take several bytes, so that the bytes must be re-encoded."""
        return self.codec.startswith(("utf-16", "utf-32"))


def find_encoding(head: bytes) -> Encoding | None:
    """The encoding of a text from its first bytes; None when they are no text.

    A byte-order mark decides; else UTF-8 where the bytes allow it, else Latin-1. Control characters
    mean that it is no text.
    """
    for mark, codec in _MARKS:
        if head.startswith(mark):
            text = head[len(mark) :].decode(codec, errors="replace")
            return Encoding(codec, len(mark)) if _is_plain(text[:2000].encode("utf-8")) else None
    if not _is_plain(head):
        return None
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return Encoding("latin-1", 0)
    return Encoding("utf-8", 0)


def _is_plain(data: bytes) -> bool:
    return len(data.translate(None, _CONTROL)) == len(data)


def decode_head(head: bytes, encoding: Encoding) -> str:
    """The text of the first bytes; a character cut in two at the end is dropped."""
    body = head[encoding.mark_bytes :]
    return codecs.getincrementaldecoder(encoding.codec)(errors="replace").decode(body)


def line_blocks(stream: BinaryIO, encoding: Encoding) -> Iterator[tuple[bytes, int]]:
    """Blocks of whole lines and the bytes of the file read so far.

    Every line but perhaps the last of the file ends with ``\\n``.
    """
    stream.read(encoding.mark_bytes)
    read_bytes, rest = encoding.mark_bytes, b""
    decoder = codecs.getincrementaldecoder(encoding.codec)(errors="replace") if encoding.is_wide else None
    while block := stream.read(BLOCK_BYTES):
        read_bytes += len(block)
        if decoder is not None:
            block = decoder.decode(block).encode("utf-8")
        block = rest + block
        # A carriage return at the very end may be the first half of a line end.
        end = max(block.rfind(b"\n"), block.rfind(b"\r", 0, len(block) - 1)) + 1
        rest = block[end:]
        if end:
            yield _unix_lines(block[:end]), read_bytes
    if rest:
        yield _unix_lines(rest), read_bytes


def _unix_lines(block: bytes) -> bytes:
    return block.replace(b"\r\n", b"\n").replace(b"\r", b"\n") if b"\r" in block else block
