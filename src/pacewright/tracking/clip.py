"""Reading clips: luma planes frame by frame, real timestamps, rotation, capture rate, and clear refusals.

Everything that knows the decoder (PyAV) is in this file and in `pictures`, so that it can be exchanged.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from queue import Empty, Queue
from threading import Event, Thread
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pacewright.core.errors import ReadError
from pacewright.core.recording import FloatArray

Plane = NDArray[np.uint8]

MOST_FRAMES = 300_000
"""About 20 minutes at 240 frames/s. A longer film is a mistake or a day's archive: cut out the putts."""
_MOST_PIXELS = 8192 * 4352
_LEAST_SIDE_PX = 64
_AHEAD_BYTES, _MOST_AHEAD = 50_000_000, 16
_CAPTURE_KEYS = ("com.android.capture.fps", "com.apple.quicktime.capture.fps", "capture_fps", "capture.fps")


@dataclass(frozen=True, slots=True)
class ClipInfo:
    """What the container says. ``size_px`` is (width, height) as decoded, before ``rotation_deg`` is
    carried out (clockwise, 0, 90, 180 or 270); ``capture_rate_hz`` is None where nothing is said of it.
    """

    size_px: tuple[int, int]
    rotation_deg: int
    codec: str
    frames: int
    play_rate_hz: float
    tick_s: float
    capture_rate_hz: float | None
    has_sound: bool


@dataclass(frozen=True, slots=True)
class Frame:
    """One picture: its number, its timestamp in ticks, and its luma plane (h, w), 8 bit, as decoded."""

    index: int
    tick: int
    luma: Plane
    _picture: Any = None

    def colour(self) -> Plane:
        """How blue and how red, (h / 2, w / 2, 2), 8 bit, 128 where there is no colour: a copy."""
        picture = self._picture.reformat(format="yuv420p")
        rows, columns = picture.height // 2, picture.width // 2
        planes = [
            np.frombuffer(plane, np.uint8).reshape(-1, plane.line_size)[:rows, :columns]
            for plane in picture.planes[1:3]
        ]
        return np.stack(planes, axis=-1)


class Clip:
    """An open clip. Iterate `frames` once; `broke_off` then says whether the file ended in the middle."""

    def __init__(self, path: Path, container: Any) -> None:
        self.path = path
        self._container = container
        self._stream = container.streams.video[0]
        self._stream.thread_type = "AUTO"
        self.broke_off: str | None = None
        self._first: Any = None
        self._decoded = self._decode()
        self._first = next(self._decoded, None)
        if self._first is None:
            why = f" ({self.broke_off})" if self.broke_off else ""
            raise ReadError(f"{path.name}: the clip holds no picture that can be read{why}. Copy it again.")
        self.info = self._said()
        self._over = Event()
        self._decoder: Thread | None = None
        width, height = self.info.size_px
        # Never more than a few pictures, however large they are.
        room = min(max(_AHEAD_BYTES // (2 * width * height), 1), _MOST_AHEAD)
        self._coming: Queue[Frame | BaseException | None] = Queue(room)

    def frames(self) -> Iterator[Frame]:
        """The frames in the order of showing. A plane is a view: copy what is to be kept."""
        size = self.info.size_px
        index, last_tick = 0, None
        for picture in self._pictures():
            if (picture.width, picture.height) != size:
                self.broke_off = f"the size of the picture changes at frame {index}"
                return
            if index >= MOST_FRAMES:
                self.broke_off = f"only its first {MOST_FRAMES:,} frames are looked at"
                return
            tick = (
                picture.pts
                if picture.pts is not None
                else (0 if last_tick is None else last_tick + self._step)
            )
            if last_tick is not None and tick <= last_tick:
                continue
            last_tick = tick
            yield Frame(index, tick, _luma(picture), picture)
            index += 1

    def frames_ahead(self) -> Iterator[Frame]:
        """As `frames`, decoded in a thread of its own while the frames before are looked at."""
        self._decoder = Thread(target=self._fill, daemon=True)
        self._decoder.start()
        while (item := self._coming.get()) is not None:
            if isinstance(item, BaseException):
                raise item
            yield item

    def _fill(self) -> None:
        end: BaseException | None = None
        try:
            for frame in self.frames():
                self._coming.put(frame)
                if self._over.is_set():
                    return
        except BaseException as error:  # raised anew where the frames are used
            end = error
        self._coming.put(end)

    def end(self) -> None:
        """Let the decoding thread come to its end, before the file is closed."""
        self._over.set()
        while self._decoder is not None and self._decoder.is_alive():
            try:
                self._coming.get(timeout=0.01)
            except Empty:
                continue

    def _pictures(self) -> Iterator[Any]:
        if self._first is not None:
            first, self._first = self._first, None
            yield first
        yield from self._decoded

    def _decode(self) -> Iterator[Any]:
        import av

        try:
            yield from self._container.decode(self._stream)
        except (av.FFmpegError, ValueError, OSError, MemoryError) as error:
            self.broke_off = _cause(error)

    @property
    def _step(self) -> int:
        return max(round(1.0 / (self.info.play_rate_hz * self.info.tick_s)), 1)

    def _said(self) -> ClipInfo:
        stream, first = self._stream, self._first
        rate = float(stream.average_rate or stream.guessed_rate or 0) or 30.0
        tick = float(stream.time_base or Fraction(1, 90_000))
        seconds = float(stream.duration * stream.time_base) if stream.duration and stream.time_base else 0.0
        if not seconds and self._container.duration:
            seconds = self._container.duration / 1e6
        return ClipInfo(
            size_px=(first.width, first.height),
            rotation_deg=round(-first.rotation / 90) * 90 % 360,
            codec=str(stream.codec_context.name),
            frames=int(stream.frames or round(seconds * rate)),
            play_rate_hz=rate,
            tick_s=tick,
            capture_rate_hz=_capture_rate({**self._container.metadata, **stream.metadata}),
            has_sound=bool(self._container.streams.audio),
        )


@contextmanager
def open_clip(path: str | Path) -> Iterator[Clip]:
    """Open a clip for reading.

    Raises ReadError, with what is wrong and what to do, for a file that is missing, not a clip, without
    pictures, too long or of a size that no phone films in.
    """
    import av

    path = Path(path)
    if not path.is_file():
        raise ReadError(f"{path}: there is no such file.")
    try:
        # No frame numbers, no network: a file of a form that names other files must not make us open them.
        container = av.open(str(path), options={"protocol_whitelist": "file"}, metadata_errors="replace")
    except (av.FFmpegError, ValueError, OSError, MemoryError) as error:
        raise ReadError(
            f"{path.name}: this is not a clip that can be read ({_cause(error)}). MP4, MOV, WebM and MKV "
            "can be; if it plays elsewhere, save it again as MP4 with H.264."
        ) from error
    with container:
        _check(path, container)
        clip = Clip(path, container)
        try:
            yield clip
        finally:
            clip.end()


def sha256_of(path: Path) -> str:
    """Hash of the whole file, read in pieces."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def capture_times(ticks: NDArray[np.int64], info: ClipInfo, capture_rate_hz: float | None) -> FloatArray:
    """Capture time of each frame in seconds, from its timestamp; the first is 0. (n,) ticks, (n,) out.

    Timestamps are whole ticks: where they lie on an even raster (frames left out allowed), the raster is
    taken, which mends the rounding of a coarse time base; else they are taken as they are. A stated
    capture rate stretches the file's time.
    """
    time_s = (ticks - ticks[0]) * info.tick_s
    if time_s.size > 2:
        steps = np.diff(time_s)
        usual = float(np.mean(steps[steps < 1.5 * np.median(steps)]))
        number = np.concatenate([[0.0], np.cumsum(np.maximum(np.round(steps / usual), 1.0))])
        step, start = np.polyfit(number, time_s, 1)
        raster = start + step * number
        even = float(np.abs(raster - time_s).max()) <= 1.05 * info.tick_s
        time_s = raster - raster[0] if even else time_s
    time_s = np.asarray(time_s, dtype=np.float64)
    played_hz = 1.0 / float(np.median(np.diff(time_s))) if time_s.size > 1 else info.play_rate_hz
    return time_s if capture_rate_hz is None else time_s * (played_hz / capture_rate_hz)


def _luma(picture: Any) -> Plane:
    """The luma plane as 8 bit. 8-bit planes are views; deeper ones are brought down to 8 bit."""
    plane = picture.planes[0]
    name = picture.format.name
    if not name.startswith(("yuv", "nv", "p0", "gray")):
        picture = picture.reformat(format="gray")
        plane, name = picture.planes[0], "gray"
    depth = picture.format.components[0].bits
    if depth <= 8:
        rows = np.frombuffer(plane, np.uint8).reshape(-1, plane.line_size)
        return rows[: picture.height, : picture.width]
    deep = np.frombuffer(plane, np.uint16).reshape(-1, plane.line_size // 2)[
        : picture.height, : picture.width
    ]
    # Planar forms hold the value in the low bits, the p0xx forms in the high ones.
    return np.asarray(deep >> (8 if name.startswith("p0") else depth - 8), dtype=np.uint8)


def _check(path: Path, container: Any) -> None:
    if not container.streams.video:
        held = "only sound" if container.streams.audio else "neither pictures nor sound"
        raise ReadError(f"{path.name}: the file holds {held}, no pictures. Give the clip itself.")
    stream = container.streams.video[0]
    if stream.codec_context is None:
        raise ReadError(f"{path.name}: its pictures are coded in a way that is not known; save it as H.264.")
    width, height = stream.codec_context.width, stream.codec_context.height
    if width * height > _MOST_PIXELS:
        raise ReadError(
            f"{path.name}: pictures of {width}x{height} are more than can be read; film in 1080p or 4K."
        )
    if 0 < min(width, height) < _LEAST_SIDE_PX:
        raise ReadError(f"{path.name}: pictures of {width}x{height} are too small to measure a stroke in.")
    rate = float(stream.average_rate or 0)
    seconds = float(stream.duration * stream.time_base) if stream.duration and stream.time_base else 0.0
    frames = max(stream.frames, seconds * rate, (container.duration or 0) / 1e6 * rate)
    if frames > MOST_FRAMES:
        raise ReadError(
            f"{path.name}: the clip has about {frames:,.0f} frames, more than the {MOST_FRAMES:,} that are "
            "looked through in one go. Cut out the putts and give those."
        )


def _capture_rate(metadata: dict[str, str]) -> float | None:
    """The capture rate that the container states, in frames a second; it stands as text or as a number."""
    lowered = {key.lower(): value for key, value in metadata.items()}
    for key in _CAPTURE_KEYS:
        try:
            rate = float(Fraction(lowered[key].strip())) if key in lowered else 0.0
        except (ValueError, ZeroDivisionError):
            continue
        if 10.0 <= rate <= 5000.0:
            return rate
    return None


def _cause(error: BaseException) -> str:
    text = str(getattr(error, "strerror", "") or error).strip().rstrip(".")
    return text[:1].lower() + text[1:] if text else type(error).__name__
