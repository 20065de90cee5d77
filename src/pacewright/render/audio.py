"""A click track as WAV or FLAC."""

from __future__ import annotations

from pathlib import Path

from pacewright.core.errors import SettingsError
from pacewright.render.beats import ClickTrack

_FORMATS = {".wav": "WAV", ".flac": "FLAC"}


def check_audio_path(path: Path) -> str:
    """The sound format of a file name; raises SettingsError for another ending than .wav or .flac."""
    try:
        return _FORMATS[path.suffix.lower()]
    except KeyError:
        raise SettingsError(f"'{path.name}' must end in .wav or .flac.") from None


def audio_bytes(track: ClickTrack, sound_format: str) -> bytes:
    """The sound file: one channel of 24 bits, so that even a quiet click starts on its own first sample.

    ``sound_format`` comes from `check_audio_path`.
    """
    import io

    import soundfile

    buffer = io.BytesIO()
    soundfile.write(buffer, track.samples, track.rate_hz, format=sound_format, subtype="PCM_24")
    return buffer.getvalue()
