"""What kind of recording a file is, by its first bytes; everything else is refused."""

from __future__ import annotations

from pathlib import PurePath

from pacewright.core.errors import FileKindError, ReadError

CLIPS = ("MP4", "MOV", "WebM", "AVI")
TAKEN = (*CLIPS, "CSV", "C3D", "WAV", "FLAC")
"""The kinds that are named to whoever sends another; a few further ones are taken too."""
_TABLES = frozenset({".csv", ".tsv", ".txt", ".json", ".trc", ".mot", ".sto", ".dat", ""})


def kind_of(head: bytes, name: str) -> str:
    """``clip``, ``sound``, ``motion`` (C3D) or ``table``. Raises FileKindError for any other file,
    ReadError for an empty one.

    ``head`` are the first bytes, up to 4,096 of them are looked at.
    """
    head = head[:4096]
    if not head:
        raise ReadError(f"'{name}' is empty.")
    if (
        head[4:8] == b"ftyp"
        or head[:4] == b"\x1a\x45\xdf\xa3"
        or (head[:4] == b"RIFF" and head[8:12] == b"AVI ")
    ):
        return "clip"
    if head[4:8] in (b"moov", b"mdat", b"wide", b"free") or head[:4] == b"\x00\x00\x01\xba":
        return "clip"
    if head[:4] in (b"fLaC", b"OggS", b"FORM") or (head[:4] in (b"RIFF", b"RF64") and head[8:12] == b"WAVE"):
        return "sound"
    if len(head) > 1 and head[1] == 0x50 and PurePath(name).suffix.lower() == ".c3d":
        return "motion"
    if PurePath(name).suffix.lower() in _TABLES and _is_text(head):
        return "table"
    raise FileKindError(
        f"'{name}' is no recording that is known here; send a clip (MP4, MOV, WebM, AVI), a table (CSV), "
        "motion capture (C3D) or sound (WAV, FLAC).",
        TAKEN,
    )


def _is_text(head: bytes) -> bool:
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return True
    return b"\x00" not in head and sum(byte < 9 or 13 < byte < 32 for byte in head) == 0
