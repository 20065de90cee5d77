"""A file becomes a Recording: `read` finds the reader by the file's content.

Formats, options and remarks: `docs/contracts/recording.md`. Adding a reader: `docs/extend-readers.md`.
"""

from __future__ import annotations

from pacewright.readers.opening import read
from pacewright.readers.options import HAND_TIMING_SD_S, ReadOptions
from pacewright.readers.registry import Reader, Source, register, registered

__all__ = ["HAND_TIMING_SD_S", "ReadOptions", "Reader", "Source", "read", "register", "registered"]
