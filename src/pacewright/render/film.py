"""Pictures become a film: H.264 in MP4, or VP9 in WebM."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from pacewright.core.errors import SettingsError

FilmFormat = Literal["mp4", "webm"]
SOUND_RATE_HZ = 48_000
_SOUND_FRAME = 960
_TICK = Fraction(1, 90_000)

_VIDEO: dict[FilmFormat, tuple[str, dict[str, str]]] = {
    "mp4": ("libx264", {"crf": "20", "preset": "veryfast"}),
    "webm": (
        "libvpx-vp9",
        {"crf": "32", "b": "0", "deadline": "realtime", "cpu-used": "6", "row-mt": "1"},
    ),
}
_SOUND: dict[FilmFormat, str] = {"mp4": "aac", "webm": "libopus"}
_CONTAINER: dict[FilmFormat, dict[str, str]] = {"mp4": {"movflags": "+faststart"}, "webm": {}}


def film_format(path: Path) -> FilmFormat:
    """The format that a name asks for by its ending; raises SettingsError for another."""
    ending = path.suffix.lower()
    if ending == ".mp4":
        return "mp4"
    if ending == ".webm":
        return "webm"
    raise SettingsError(f"'{path.name}' must end in .mp4 or .webm, or in .png for one picture.")


def write_film(
    path: Path,
    form: FilmFormat,
    pictures: Iterator[tuple[float, NDArray[np.uint8]]],
    rate_hz: float,
    sound: NDArray[np.float32] | None = None,
) -> int:
    """Encode pictures (height, width, 3) as they come, each with its time in seconds; returns how many.

    ``rate_hz`` is how many usually come in a second, ``sound`` (2, n) is at 48 kHz, −1 to 1.
    An odd row or column is cut off, because colour is stored for every other one. What stands at ``path`` is
    overwritten, and is not whole before the function returns.
    """
    import av

    codec, settings = _VIDEO[form]
    with av.open(str(path), "w", format=form, options=_CONTAINER[form]) as container:
        video: Any = None
        audio: Any = None
        count = laid = 0
        for time_s, picture in pictures:
            even = picture[: picture.shape[0] // 2 * 2, : picture.shape[1] // 2 * 2]
            if video is None:
                video = container.add_stream(
                    codec, rate=Fraction(rate_hz).limit_denominator(1001), options=settings
                )
                video.height, video.width = even.shape[:2]
                video.pix_fmt = "yuv420p"
                video.codec_context.time_base = _TICK
                _say_colours(video.codec_context)
                if sound is not None:
                    audio = container.add_stream(_SOUND[form], rate=SOUND_RATE_HZ, layout="stereo")
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(even), format="rgb24")
            frame = frame.reformat(format="yuv420p", dst_colorspace="ITU709", dst_color_range="MPEG")
            frame.pts, frame.time_base = round(time_s / _TICK), _TICK
            container.mux(video.encode(frame))
            count += 1
            laid = _encode_sound(container, audio, sound, laid, time_s + 1.0 / rate_hz)
        if video is None:
            raise SettingsError("There is no picture to make a film of.")
        container.mux(video.encode())
        if audio is not None:
            container.mux(audio.encode())
    return count


def _say_colours(context: Any) -> None:
    """Say which colours the figures mean (BT.709, limited range), or players guess by the size."""
    context.color_range = 1
    context.colorspace = context.color_primaries = context.color_trc = 1


def _encode_sound(
    container: Any, stream: Any, sound: NDArray[np.float32] | None, start: int, end_s: float
) -> int:
    """Encode the sound from a sample on up to a time, to lie beside its pictures; returns how far."""
    if stream is None or sound is None:
        return start
    import av

    end = min(int(sound.shape[1]), int(end_s * SOUND_RATE_HZ))
    for at in range(start, end, _SOUND_FRAME):
        piece = np.ascontiguousarray(sound[:, at : min(at + _SOUND_FRAME, end)], dtype=np.float32)
        frame = av.AudioFrame.from_ndarray(piece, format="fltp", layout="stereo")
        frame.sample_rate, frame.pts, frame.time_base = SOUND_RATE_HZ, at, Fraction(1, SOUND_RATE_HZ)
        container.mux(stream.encode(frame))
    return int(max(start, end))
