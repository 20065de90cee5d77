"""Pictures and sound into a file as phones write them: codec, container, timestamps, rotation,
capture rate."""

from __future__ import annotations

import os
import struct
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import av
import numpy as np

from pacewright.core.recording import FloatArray

Planes = tuple[FloatArray, FloatArray, FloatArray]


@dataclass(frozen=True)
class Encoding:
    """How a clip is written. ``ticks_hz`` is the time base of the picture track (WebM and MKV have 1000).

    ``play_slower`` divides the rate at which the file plays (8: 240 pictures/s play at 30);
    ``metadata`` goes into
    the file as text. ``turned_deg`` is the display rotation, counterclockwise: 0, 90, −90 or 180.
    """

    codec: str = "libx264"
    ending: str = "mp4"
    bits: int = 8
    mbit_s: float = 40.0
    ticks_hz: int = 90000
    play_slower: float = 1.0
    metadata: dict[str, str] = field(default_factory=dict)
    turned_deg: int = 0
    options: dict[str, str] = field(default_factory=dict)


_OPTIONS: dict[str, dict[str, str]] = {
    "libx264": {"preset": "superfast", "bf": "0"},
    "libx265": {"preset": "ultrafast", "x265-params": "log-level=none:pools=2:frame-threads=1"},
    "libvpx-vp9": {"deadline": "realtime", "cpu-used": "8", "row-mt": "1"},
    "libsvtav1": {"preset": "12", "svtav1-params": "lp=2"},
    "mjpeg": {},
}


def write(
    path: Path, encoding: Encoding, times_s: FloatArray, pictures: Iterable[Planes], rate_hz: float,
    sound: tuple[FloatArray, int] | None = None,
) -> FloatArray:  # fmt: skip
    """Encode ``pictures`` taken at ``times_s`` (n,); returns the times that the file holds, in
    seconds of capture.

    ``sound`` is samples (m,) in −1..1 and their rate. The file comes into place only when it is whole.
    """
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    ticks = np.round(times_s * encoding.play_slower * encoding.ticks_hz).astype(np.int64)
    with av.open(str(part), "w", format=_FORMATS[encoding.ending], options=_muxer(encoding)) as container:
        container.metadata.update(encoding.metadata)
        audio = _audio_stream(container, encoding, sound)
        stream = None
        for number, planes in enumerate(pictures):
            if stream is None:
                stream = _picture_stream(container, encoding, planes[0].shape, rate_hz)
                if audio is not None and sound is not None:
                    _write_sound(container, audio, *sound)
            frame = _frame(planes, encoding)
            frame.pts, frame.time_base = int(ticks[number]), Fraction(1, encoding.ticks_hz)
            container.mux(stream.encode(frame))
        assert stream is not None
        container.mux(stream.encode())
    if encoding.turned_deg:
        turn(part, encoding.turned_deg)
    part.replace(path)
    return np.asarray(ticks / encoding.ticks_hz / encoding.play_slower)


_FORMATS = {"mp4": "mp4", "mov": "mov", "webm": "webm", "mkv": "matroska"}


def _muxer(encoding: Encoding) -> dict[str, str]:
    if encoding.ending not in ("mp4", "mov"):
        return {}
    return {"video_track_timescale": str(encoding.ticks_hz), "movflags": "use_metadata_tags"}


def _picture_stream(container, encoding: Encoding, shape: tuple[int, ...], rate_hz: float):  # type: ignore[no-untyped-def]
    rate = Fraction(rate_hz / encoding.play_slower).limit_denominator(1001)
    options = _OPTIONS[encoding.codec] | encoding.options
    stream = container.add_stream(encoding.codec, rate=rate, options=options)
    stream.height, stream.width = shape
    full = encoding.codec == "mjpeg"
    stream.pix_fmt = "yuvj420p" if full else ("yuv420p10le" if encoding.bits == 10 else "yuv420p")
    # The encoder reckons bits by the rate at which the file plays.
    stream.bit_rate = int(encoding.mbit_s * 1e6 / encoding.play_slower)
    context = stream.codec_context
    context.time_base = Fraction(1, encoding.ticks_hz)
    context.gop_size = max(int(rate_hz / 2), 15)
    context.thread_count = 2
    if encoding.codec == "libx265" and encoding.ending in ("mp4", "mov"):
        context.codec_tag = "hvc1"
    if full:
        context.color_range = 2
    else:
        context.color_range, context.colorspace, context.color_primaries, context.color_trc = 1, 1, 1, 1
    return stream


def _frame(planes: Planes, encoding: Encoding):  # type: ignore[no-untyped-def]
    luma, blue, red = planes
    full = encoding.codec == "mjpeg"
    name = "yuvj420p" if full else ("yuv420p10le" if encoding.bits == 10 else "yuv420p")
    frame = av.VideoFrame(luma.shape[1], luma.shape[0], name)
    if full:  # JPEG uses all levels
        luma = np.clip((luma.astype(np.float32) - 16) * (255 / 219) + 0.5, 0, 255).astype(np.uint8)
        blue, red = (
            np.clip((plane.astype(np.float32) - 128) * (255 / 224) + 128.5, 0, 255).astype(np.uint8)
            for plane in (blue, red)
        )
    for plane, values in zip(frame.planes, (luma, blue, red), strict=True):
        held = np.frombuffer(plane, dtype=values.dtype).reshape(plane.height, -1)
        held[:, : values.shape[1]] = values
    return frame


def _audio_stream(container, encoding: Encoding, sound):  # type: ignore[no-untyped-def]
    if sound is None:
        return None
    codec = {"webm": "libopus"}.get(encoding.ending, "aac")
    stream = container.add_stream(codec, rate=sound[1])
    stream.bit_rate = 128000
    stream.codec_context.layout = "mono"
    return stream


def _write_sound(container, stream, samples: FloatArray, rate_hz: int) -> None:  # type: ignore[no-untyped-def]
    size = 960 if rate_hz == 48000 else 1024
    for start in range(0, samples.size, size):
        block = samples[start : start + size].astype(np.float32)
        frame = av.AudioFrame.from_ndarray(block[None], format="fltp", layout="mono")
        frame.sample_rate, frame.pts, frame.time_base = rate_hz, start, Fraction(1, rate_hz)
        container.mux(stream.encode(frame))
    container.mux(stream.encode())


def turn(path: Path, degrees: int) -> None:
    """Write a display rotation (counterclockwise) into the picture track's header of an MP4 or MOV file."""
    data = bytearray(path.read_bytes())
    one = 1 << 16
    c, s = {90: (0, 1), -90: (0, -1), 180: (-1, 0)}[degrees]
    # Rows a b u, c d v, x y w; the angle is counted clockwise in the file.
    matrix = struct.pack(">9i", c * one, -s * one, 0, s * one, c * one, 0, 0, 0, 1 << 30)
    at = 0
    while (at := data.find(b"tkhd", at)) >= 0:
        start = at + 8 + (32 if data[at + 4] == 1 else 20) + 16
        width = struct.unpack(">I", data[start + 36 : start + 40])[0]
        if width:  # a sound track has none
            data[start : start + 36] = matrix
        at += 4
    path.write_bytes(data)
