"""C3D motion capture, read by ezc3d.

ezc3d loops or asks for all memory on some damaged files, so the file's own account of itself (header and
parameter records) is checked against its size first.
"""

from __future__ import annotations

import os
import struct
import tempfile
from dataclasses import dataclass
from typing import Any, BinaryIO

import numpy as np

from pacewright.core.errors import SettingsError
from pacewright.core.recording import Recording
from pacewright.core.units import factor_to_si
from pacewright.readers.markers import MarkerSet, marker_recording
from pacewright.readers.options import ReadOptions
from pacewright.readers.registry import Source

_BLOCK = 512
_KEY = 0x50
_INTEL, _DEC, _MIPS = 84, 85, 86
_MOST_IN_16_BITS = 65_535
_TYPE_BYTES = (-1, 1, 2, 4)


class C3dReader:
    """Motion capture in the C3D format: the head's marker, and the ball's where there is one."""

    name = "c3d"

    def recognises(self, head: bytes, options: ReadOptions) -> float:
        """Sure by the key byte and a first block of the right kind."""
        return 1.0 if len(head) > 1 and head[1] == _KEY and 2 <= head[0] <= 20 else 0.0

    def read(self, stream: BinaryIO, source: Source, options: ReadOptions) -> Recording:
        """The head's marker along the target line."""
        data = stream.read()
        fault = structure_fault(data)
        if fault is not None:
            raise source.error(f"{fault}. The file is damaged or was cut off; export it again.")
        if options.progress is not None:
            options.progress(0.3)
        markers = _markers(_load(data, source), source)
        return marker_recording(markers, self.name, source, options)


@dataclass(frozen=True, slots=True)
class _Account:
    """What the header says of the file: numbers, and where the two sections start (in blocks from 1)."""

    order: str
    points: int
    analog_words: int
    frames: int
    parameter_block: int
    parameter_blocks: int
    data_block: int
    word_bytes: int


def structure_fault(data: bytes) -> str | None:
    """What is wrong with a C3D file as a whole, in words; None when its sections fit into it."""
    if len(data) < 2 * _BLOCK:
        return f"a C3D file has at least {2 * _BLOCK} bytes; this one has {len(data)}"
    start = (data[0] - 1) * _BLOCK
    if data[1] != _KEY or start + _BLOCK > len(data):
        return "the header does not lead to the parameters"
    processor = data[start + 3]
    if processor not in (_INTEL, _DEC, _MIPS):
        return f"byte {start + 4}: {processor} is not a kind of processor (84, 85 or 86)"
    account = _account(data, start, processor)
    end = start + account.parameter_blocks * _BLOCK
    if account.parameter_blocks == 0 or end > len(data):
        return f"the parameters should end at byte {end}, but the file has {len(data)} bytes"
    fault = _records_fault(data[start + 4 : end], account.order, start + 4)
    return fault or _data_fault(account, len(data))


def _account(data: bytes, start: int, processor: int) -> _Account:
    order = ">" if processor == _MIPS else "<"
    points, analog_words, first, last = struct.unpack_from(f"{order}4H", data, 2)
    data_block = struct.unpack_from(f"{order}H", data, 16)[0]
    scale = struct.unpack_from(f"{order}f", data, 12)[0]
    if processor == _DEC:
        # The sign of a DEC float stands in its second byte.
        scale = -1.0 if data[13] & 0x80 else 1.0
    frames = last - first + 1
    word_bytes = 4 if scale < 0 else 2
    return _Account(order, points, analog_words, frames, data[0], data[start + 2], data_block, word_bytes)


def _records_fault(section: bytes, order: str, offset: int) -> str | None:
    """Walk the parameter records; a fault where one leaves the section."""
    at = 0
    while at < len(section):
        name_length = abs(int.from_bytes(section[at : at + 1], "little", signed=True))
        if name_length == 0:
            return None
        link = at + 2 + name_length
        if link + 2 > len(section):
            return f"byte {offset + at}: a parameter's name leaves the parameters"
        step = struct.unpack_from(f"{order}h", section, link)[0]
        is_parameter = int.from_bytes(section[at + 1 : at + 2], "little", signed=True) > 0
        if is_parameter and (fault := _parameter_fault(section, link + 2)) is not None:
            return f"byte {offset + at}: {fault}"
        if step == 0:
            return None
        if step < 2:
            return f"byte {offset + at}: a parameter leads back to one before it"
        at = link + step
    return None


def _parameter_fault(section: bytes, at: int) -> str | None:
    if at + 2 > len(section):
        return "a parameter leaves the parameters"
    kind = int.from_bytes(section[at : at + 1], "little", signed=True)
    dimensions = section[at + 1]
    if kind not in _TYPE_BYTES:
        return f"{kind} is not a type of parameter"
    count = 1
    for size in section[at + 2 : at + 2 + dimensions]:
        count *= size
    if dimensions > 7 or at + 2 + dimensions + count * abs(kind) > len(section):
        return "a parameter's figures leave the parameters"
    return None


def _data_fault(account: _Account, size: int) -> str | None:
    if account.points == 0 or account.frames <= 0:
        return f"it holds {account.points} markers in {max(account.frames, 0)} frames: nothing was recorded"
    begin = (account.data_block - 1) * _BLOCK
    frame_bytes = (4 * account.points + account.analog_words) * account.word_bytes
    needed = begin + account.frames * frame_bytes
    if account.data_block < 2 or needed > size:
        there = max(size - begin, 0) // frame_bytes
        return (
            f"the header promises {account.frames} frames of {account.points} markers, {needed} bytes, but "
            f"the file has {size} bytes and ends in frame {there + 1}"
        )
    return None


def _load(data: bytes, source: Source) -> Any:
    """ezc3d's view of the file; it reads from disk only."""
    import ezc3d

    handle, path = tempfile.mkstemp(suffix=".c3d")
    try:
        with os.fdopen(handle, "wb") as copy:
            copy.write(data)
        return ezc3d.c3d(path)
    except (RuntimeError, OSError, ValueError, IndexError, KeyError, MemoryError) as error:
        reason = str(error).splitlines()[0][:200] if str(error) else type(error).__name__
        raise source.error(f"not readable as C3D: {reason}. Export the file again.") from error
    finally:
        os.unlink(path)


def _markers(c3d: Any, source: Source) -> MarkerSet:
    point = c3d["parameters"].get("POINT", {})
    places = np.asarray(c3d["data"]["points"], dtype=np.float64)
    _, count, frames = places.shape
    rate_hz = float(c3d["header"]["points"]["frame_rate"]) or float(_value(point, "RATE", [0.0])[0])
    if not (np.isfinite(rate_hz) and 5.0 <= rate_hz <= 50_000.0):
        raise source.error(f"POINT:RATE: {rate_hz:g} frames a second is no rate of motion capture.")
    unit = str(_value(point, "UNITS", ["mm"])[0]).strip() or "mm"
    try:
        factor = factor_to_si(unit, "length")
    except SettingsError as error:
        raise source.error(f"POINT:UNITS: {error}") from error
    labels = [label.strip() for part in _label_parts(point) for label in part]
    labels = [*labels[:count], *(f"marker {k + 1}" for k in range(len(labels), count))]
    xyz = np.transpose(places[:3], (2, 1, 0)) * factor
    residual = np.asarray(c3d["data"]["meta_points"]["residuals"], dtype=np.float64)
    if residual.size == count * frames:
        # A negative residual marks a marker that was not seen.
        xyz[residual.reshape(count, frames).T < 0] = np.nan
    xyz[~np.isfinite(xyz).all(axis=2)] = np.nan
    return MarkerSet(tuple(labels), np.arange(frames) / rate_hz, xyz, "z")


def _label_parts(point: Any) -> list[list[str]]:
    """LABELS, LABELS2, …: a parameter holds 255 of them."""
    names = ["LABELS", *(f"LABELS{k}" for k in range(2, 10))]
    return [list(_value(point, name, [])) for name in names]


def _value(group: Any, name: str, default: list[Any]) -> Any:
    value = group.get(name, {}).get("value", default)
    return value if len(value) else default
