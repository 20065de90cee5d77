"""Read the sound of a file as one channel: WAV, FLAC, OGG, MP3, or the sound track of a clip."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pacewright.core.errors import ReadError
from pacewright.signals.clicks import LEAST_RATE_HZ

if TYPE_CHECKING:
    from pacewright.core.recording import FloatArray

CLIP_ENDINGS = (".m4a", ".mp4", ".mov", ".webm", ".aac", ".3gp", ".mkv")
LONGEST_S = 3600.0
LEAST_S = 0.2


@dataclass(frozen=True, slots=True)
class Sound:
    """One channel: ``samples`` (n,) in −1..1, the mean of what channels the file has."""

    samples: FloatArray
    rate_hz: float

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.samples.size / self.rate_hz


def read_sound(path: str | Path) -> Sound:
    """The sound of a file. Raises ReadError for a file without any, too short, too long or too coarse."""
    file = Path(path)
    if not file.exists():
        raise ReadError(f"'{file}' is not there.")
    if file.is_dir():
        raise ReadError(f"'{file}' is a folder; name a sound file.")
    if file.stat().st_size == 0:
        raise ReadError(f"'{file.name}' is empty.")
    sound = _from_clip(file) if file.suffix.lower() in CLIP_ENDINGS else _from_sound_file(file)
    return _checked(sound, file)


def is_sound_alone(path: str | Path) -> bool:
    """Whether a file that may be a clip holds sound and no picture; the cover of a piece of music is none."""
    import av

    try:
        with av.open(str(path)) as container:
            pictures = [one for one in container.streams.video if not _is_cover(one)]
            return bool(container.streams.audio) and not pictures
    except av.error.FFmpegError:
        return False


def _is_cover(stream: Any) -> bool:
    import av

    return bool(stream.disposition & av.stream.Disposition.attached_pic)


def _checked(sound: Sound, file: Path) -> Sound:
    import numpy as np

    if sound.rate_hz < LEAST_RATE_HZ:
        raise ReadError(
            f"'{file.name}' has {sound.rate_hz:g} samples a second; contacts need {LEAST_RATE_HZ} or more."
        )
    if sound.duration_s < LEAST_S:
        raise ReadError(f"'{file.name}' lasts {sound.duration_s:.2f} s; there is nothing to hear in it.")
    if not np.all(np.isfinite(sound.samples)):
        raise ReadError(f"'{file.name}' has samples that are not numbers; export it again.")
    return sound


def _too_long(file: Path, duration_s: float) -> ReadError:
    return ReadError(f"'{file.name}' lasts {duration_s / 60:.0f} minutes; cut it to an hour or less.")


def _from_sound_file(file: Path) -> Sound:
    import soundfile

    try:
        with soundfile.SoundFile(file) as opened:
            if opened.frames > LONGEST_S * opened.samplerate:
                raise _too_long(file, opened.frames / opened.samplerate)
            samples = opened.read(dtype="float64", always_2d=True)
            return Sound(samples.mean(axis=1), float(opened.samplerate))
    except (soundfile.LibsndfileError, RuntimeError) as error:
        raise ReadError(
            f"'{file.name}' cannot be read as sound ({str(error).rstrip('.')}); "
            "give WAV, FLAC, OGG, MP3, or a clip with sound."
        ) from None


def _from_clip(file: Path) -> Sound:
    try:
        import av
    except ImportError:
        raise ReadError(
            f"'{file.name}' is a clip, and PyAV is not installed; save its sound as WAV."
        ) from None
    try:
        with av.open(str(file)) as container:
            if not container.streams.audio:
                raise ReadError(f"'{file.name}' has no sound track.")
            return _decoded(container, file)
    except av.error.FFmpegError as error:
        raise ReadError(f"'{file.name}' cannot be read as a clip: {error.strerror}.") from None


def _decoded(container: Any, file: Path) -> Sound:
    import av
    import numpy as np

    rate = container.streams.audio[0].rate
    to_mono = av.AudioResampler(format="fltp", layout="mono", rate=rate)
    pieces, count, first_s = [], 0, None
    for frame in container.decode(audio=0):
        if first_s is None:
            first_s = max(frame.time or 0.0, 0.0)
        for piece in to_mono.resample(frame):
            pieces.append(piece.to_ndarray()[0])
            count += pieces[-1].size
        if count > LONGEST_S * rate:
            raise _too_long(file, count / rate)
    if not pieces:
        raise ReadError(f"'{file.name}' has a sound track without sound.")
    # Times count from the start of the clip, also where its sound begins later than its picture.
    silence = np.zeros(round((first_s or 0.0) * rate))
    return Sound(np.concatenate([silence, *pieces]).astype(np.float64), float(rate))
