"""The points of a C3D file, checked at every step against the size of the file.

Format: the C3D file format user guide (Motion Lab Systems), as it is commonly implemented. A file is made of
blocks of 512 bytes: a header, parameter records in groups, and frames of points and analog samples, as
16-bit integers or 32-bit floats, in the byte order and float format of one of three processors. The
analog samples, events and force plates are passed over.

It is read here rather than by a library because the compiled ones known to us end the whole process on
some damaged files (see docs/decisions).
"""

from __future__ import annotations

import math
import struct
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.core.errors import ReadError
from pacewright.core.recording import FloatArray

BLOCK = 512
KEY = 0x50
_INTEL, _DEC, _MIPS = 84, 85, 86
_TEXT, _BYTE, _INTEGER, _FLOAT = -1, 1, 2, 4
_MOST_IN_16_BITS = 65_535

Parameter = tuple[float, ...] | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class C3dPoints:
    """Places (f, m, 3) in the file's ``unit``, nan where a marker was not seen, at ``rate_hz``."""

    labels: tuple[str, ...]
    places: FloatArray
    rate_hz: float
    unit: str


@dataclass(frozen=True, slots=True)
class _Header:
    processor: int
    points: int
    analog_words: int
    first_frame: int
    last_frame: int
    scale: float
    data_block: int
    rate_hz: float
    parameter_start: int
    parameter_end: int

    @property
    def order(self) -> str:
        """Byte order for `struct` and NumPy."""
        return ">" if self.processor == _MIPS else "<"

    @property
    def has_floats(self) -> bool:
        """Whether figures are floats; a negative scale says so."""
        return self.scale < 0

    @property
    def frame_words(self) -> int:
        """Figures in a frame: four for each point, and the analog samples."""
        return 4 * self.points + self.analog_words


def parse_c3d(data: bytes) -> C3dPoints:
    """The points of a C3D file. Raises ReadError, without the file's name, at what does not fit."""
    header = _header(data)
    parameters = _parameters(data, header)
    frames = _frame_count(header, parameters)
    places = _places(data, header, frames)
    rate_hz = _number(parameters, "POINT:RATE") or header.rate_hz
    unit = _text(parameters, "POINT:UNITS") or "mm"
    return C3dPoints(_labels(parameters, header.points), places, rate_hz, unit)


def _header(data: bytes) -> _Header:
    if len(data) < 2 * BLOCK:
        raise ReadError(f"a C3D file has at least {2 * BLOCK} bytes; this one has {len(data)}.")
    start = (data[0] - 1) * BLOCK
    if data[1] != KEY or not BLOCK <= start <= len(data) - BLOCK:
        raise ReadError("the header does not lead to the parameters.")
    blocks, processor = data[start + 2], data[start + 3]
    if processor not in (_INTEL, _DEC, _MIPS):
        raise ReadError(f"byte {start + 4}: {processor} is not a kind of processor (84, 85 or 86).")
    end = start + max(blocks, 1) * BLOCK
    if end > len(data):
        raise ReadError(f"the parameters should end at byte {end}, but the file has {len(data)} bytes.")
    order = ">" if processor == _MIPS else "<"
    points, analog_words, first, last = struct.unpack_from(f"{order}4H", data, 2)
    scale, rate_hz = (_floats(data[at : at + 4], processor)[0] for at in (12, 20))
    data_block = struct.unpack_from(f"{order}H", data, 16)[0]
    return _Header(
        processor, points, analog_words, first, last, float(scale), data_block, float(rate_hz), start + 4, end
    )


def _parameters(data: bytes, header: _Header) -> dict[str, Parameter]:
    """Every parameter as ``GROUP:NAME``. Groups may stand after their parameters."""
    groups: dict[int, str] = {}
    found: list[tuple[int, str, Parameter]] = []
    at, end = header.parameter_start, header.parameter_end
    while at + 2 <= end:
        length, number = struct.unpack_from("bb", data, at)
        link = at + 2 + abs(length)
        if length == 0 or number == 0:
            break
        if link + 2 > end:
            raise ReadError(f"byte {at + 1}: a parameter leaves the parameters.")
        name = data[at + 2 : link].decode("latin-1").strip().upper()
        step = struct.unpack_from(f"{header.order}H", data, link)[0]
        if number < 0:
            groups[-number] = name
        else:
            found.append((number, name, _parameter(data, link + 2, header)))
        if step == 0:
            break
        at = link + max(step, 2)
    return {f"{groups.get(number, number)}:{name}": value for number, name, value in found}


def _parameter(data: bytes, at: int, header: _Header) -> Parameter:
    """The figures or texts of a parameter whose type stands at ``at``."""
    end = header.parameter_end
    if at + 2 > end:
        raise ReadError(f"byte {at + 1}: a parameter leaves the parameters.")
    kind, dimensions = struct.unpack_from("bB", data, at)
    sizes = data[at + 2 : at + 2 + dimensions]
    count = 1
    for size in sizes:
        count *= size
    begin = at + 2 + dimensions
    if kind not in (_TEXT, _BYTE, _INTEGER, _FLOAT) or dimensions > 7 or begin + count * abs(kind) > end:
        raise ReadError(f"byte {at + 1}: a parameter's type or size makes no sense.")
    raw = data[begin : begin + count * abs(kind)]
    if kind == _TEXT:
        width = sizes[0] if dimensions > 1 else len(raw)
        parts = [raw[k : k + width] for k in range(0, len(raw), width)] if width else []
        return tuple(_printable(part.decode("utf-8", errors="replace")) for part in parts)
    if kind == _FLOAT:
        return tuple(float(figure) for figure in _floats(raw, header.processor))
    return tuple(float(figure) for figure in np.frombuffer(raw, f"{header.order}u{kind}"))


def _frame_count(header: _Header, parameters: Mapping[str, Parameter]) -> int:
    """Number of frames; a long recording does not fit into the 16 bits of the header."""
    frames = header.last_frame - header.first_frame + 1
    if header.last_frame < _MOST_IN_16_BITS:
        return frames
    start = [_number(parameters, "TRIAL:ACTUAL_START_FIELD", k) for k in (0, 1)]
    end = [_number(parameters, "TRIAL:ACTUAL_END_FIELD", k) for k in (0, 1)]
    if None not in (*start, *end):
        low, high = ((b or 0.0) - (a or 0.0) for a, b in zip(start, end, strict=True))
        return int(low + 65_536 * high) + 1
    return int(_number(parameters, "POINT:LONG_FRAMES") or _number(parameters, "POINT:FRAMES") or frames)


def _places(data: bytes, header: _Header, frames: int) -> FloatArray:
    """Places (f, m, 3) in the file's unit, nan where the fourth figure of a point is negative."""
    if header.points == 0 or frames <= 0:
        raise ReadError(f"it holds {header.points} markers in {max(frames, 0)} frames: nothing was recorded.")
    begin = (header.data_block - 1) * BLOCK
    word_bytes = 4 if header.has_floats else 2
    frame_bytes = header.frame_words * word_bytes
    needed = begin + frames * frame_bytes
    if begin < header.parameter_end or needed > len(data):
        there = max(len(data) - begin, 0) // frame_bytes
        raise ReadError(
            f"the header promises {frames} frames of {header.points} markers, to byte {needed}, but the file "
            f"has {len(data)} bytes and ends in frame {there + 1}."
        )
    raw = data[begin:needed]
    figures: NDArray[np.floating]
    if header.has_floats:
        figures = _floats(raw, header.processor)
    else:
        figures = np.frombuffer(raw, f"{header.order}i2").astype(np.float32)
    points = figures.reshape(frames, header.frame_words)[:, : 4 * header.points].reshape(frames, -1, 4)
    places = points[:, :, :3].astype(np.float64)
    if not header.has_floats:
        places *= header.scale
    with np.errstate(invalid="ignore"):
        unseen = ~(points[:, :, 3] >= 0) | ~np.isfinite(places).all(axis=2)
    places[unseen] = np.nan
    return places


def _floats(raw: bytes, processor: int) -> NDArray[np.floating]:
    """Floats of a processor. A DEC float has its halves exchanged and an exponent two higher."""
    if processor != _DEC:
        return np.frombuffer(raw, ">f4" if processor == _MIPS else "<f4")
    halves = np.frombuffer(raw, "<u2").astype(np.uint32)
    return (halves[::2] << 16 | halves[1::2]).view(np.float32) / np.float32(4.0)


def _printable(text: str) -> str:
    return "".join(letter for letter in text if letter.isprintable()).strip()


def _labels(parameters: Mapping[str, Parameter], count: int) -> tuple[str, ...]:
    """Names of the points; a parameter holds 255 of them, so there may be LABELS2 and more."""
    parts = [parameters.get(f"POINT:LABELS{suffix}", ()) for suffix in ("", *map(str, range(2, 10)))]
    named = [
        str(label) or f"marker {k + 1}" for k, label in enumerate(label for part in parts for label in part)
    ]
    return tuple([*named, *(f"marker {k + 1}" for k in range(len(named), count))][:count])


def _number(parameters: Mapping[str, Parameter], name: str, index: int = 0) -> float | None:
    figures = parameters.get(name, ())
    figure = figures[index] if index < len(figures) else None
    return figure if isinstance(figure, float) and math.isfinite(figure) else None


def _text(parameters: Mapping[str, Parameter], name: str) -> str:
    value = parameters.get(name, ())
    return value[0] if value and isinstance(value[0], str) else ""
