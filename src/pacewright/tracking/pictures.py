"""Colour pictures and sound of a clip, for showing: upright, in order, one picture in memory at a time."""

from __future__ import annotations

from collections.abc import Container, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pacewright.core.errors import ReadError

RGB = NDArray[np.uint8]
Sound = NDArray[np.float32]

SOUND_RATE_HZ = 48_000
_FAR = 2000
"""As many pictures are decoded for nothing before the first one wanted; the file is entered beyond that."""


def upright_rgb_frames(
    path: str | Path,
    first: int,
    last: int,
    *,
    only: Container[int] | None = None,
    longest_px: int | None = None,
) -> Iterator[tuple[int, float, RGB]]:
    """Number, seconds after the first picture as the file plays, and picture (height, width, 3), upright.

    From frame number ``first`` to ``last``, both included, as `tracking.clip` numbers them: in order of
    showing, without pictures whose time does not move on; of these, ``only`` the numbers given.
    ``longest_px`` makes larger pictures smaller. Each picture is a new array. Ends early where the clip
    does; raises ReadError when it cannot be opened.
    """
    import av

    start: int | None = None
    try:
        with _opened(path) as container:
            stream = container.streams.video[0]
            stream.thread_type = "AUTO"
            known = _ticks(container, stream) if first > _FAR else None
            if first > _FAR:
                # An entry needs the time of every picture; where a packet has none, all are decoded.
                container.seek(0 if known is None else int(known[min(first, known.size - 1)]), stream=stream)
            for index, picture in _numbered(container, stream, known):
                tick = picture.pts or 0
                if start is None:
                    start = tick if known is None else int(known[0])
                if index > last:
                    return
                if index >= first and (only is None or index in only):
                    yield index, (tick - start) * _tick_s(stream), _upright(picture, longest_px)
    except (av.FFmpegError, IndexError, ValueError, OSError, MemoryError) as error:
        # A clip that breaks off has given what came before; one that gave nothing is refused.
        if start is None or not isinstance(error, av.FFmpegError):
            raise ReadError(f"{Path(path).name}: its pictures cannot be read ({error}).") from error


def sound_between(path: str | Path, start_s: float, end_s: float) -> Sound | None:
    """Sound (2, n) at `SOUND_RATE_HZ` between two times after the first picture, as the file plays.

    Silence where the track has none; None when the clip has no sound that can be read.
    """
    import av

    length = round((end_s - start_s) * SOUND_RATE_HZ)
    out = np.zeros((2, max(length, 0)), dtype=np.float32)
    try:
        with _opened(path) as container:
            if not container.streams.audio:
                return None
            pictures, sound = container.streams.video[0], container.streams.audio[0]
            origin_s = (pictures.start_time or 0) * _tick_s(pictures) + start_s
            container.seek(int(max(origin_s - 0.5, 0.0) * av.time_base))
            resampler = av.AudioResampler(format="fltp", layout="stereo", rate=SOUND_RATE_HZ)
            place: int | None = None
            for decoded in container.decode(sound):
                for piece in resampler.resample(decoded):
                    if place is None:
                        place = round((float(decoded.time or 0.0) - origin_s) * SOUND_RATE_HZ)
                    place = _lay(out, piece.to_ndarray(), place)
                if place is not None and place >= length:
                    break
    except (av.FFmpegError, IndexError, ValueError, OSError):
        return None
    return out


def _lay(out: Sound, piece: NDArray[Any], place: int) -> int:
    """Lay a piece of sound at a place of the whole, as far as it reaches in; returns where it ends."""
    low, high = max(place, 0), min(place + piece.shape[1], out.shape[1])
    if high > low:
        out[:, low:high] = piece[:, low - place : high - place]
    return place + int(piece.shape[1])


def _opened(path: str | Path) -> Any:
    import av

    # No network: a file of a form that names other files must not make us open them.
    return av.open(str(path), options={"protocol_whitelist": "file"}, metadata_errors="replace")


def _tick_s(stream: Any) -> float:
    return float(stream.time_base or Fraction(1, 90_000))


def _numbered(container: Any, stream: Any, known: NDArray[np.int64] | None) -> Iterator[tuple[int, Any]]:
    """Pictures with their numbers: counted from the start, or looked up by time after an entry."""
    count, last_tick = 0, None
    for picture in container.decode(stream):
        tick = picture.pts
        if tick is not None and last_tick is not None and tick <= last_tick:
            continue
        last_tick = tick if tick is not None else last_tick
        yield count if known is None else int(np.searchsorted(known, tick)), picture
        count += 1


def _ticks(container: Any, stream: Any) -> NDArray[np.int64] | None:
    """Timestamps of all pictures in order of showing, from the packets alone; None where one is missing."""
    ticks = []
    for packet in container.demux(stream):
        if packet.size == 0 or packet.is_discard:
            continue
        if packet.pts is None:
            return None
        ticks.append(packet.pts)
    return np.unique(np.array(ticks, dtype=np.int64)) if ticks else None


def _upright(picture: Any, longest_px: int | None) -> RGB:
    width, height = picture.width, picture.height
    smaller = min(1.0, (longest_px or max(width, height)) / max(width, height))
    size = {"width": round(width * smaller), "height": round(height * smaller)}
    rgb = picture.reformat(format="rgb24", **size).to_ndarray()
    turns = round(-picture.rotation / 90) % 4  # quarters clockwise
    return np.ascontiguousarray(np.rot90(rgb, -turns))
