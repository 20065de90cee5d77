"""Writing a click track as WAV or FLAC."""

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


def write_audio(track: ClickTrack, path: Path, sound_format: str) -> None:
    """Write one channel of 24 bits, so that even a quiet click starts on its own first sample.

    ``sound_format`` comes from `check_audio_path`; ``path`` may have any ending.
    """
    import soundfile

    soundfile.write(str(path), track.samples, track.rate_hz, format=sound_format, subtype="PCM_24")
