"""What a person can say about a clip that the clip does not say itself."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from pacewright.core.clip import View
from pacewright.core.errors import SettingsError
from pacewright.core.units import parse_length, parse_quantity

STUCK_ON: tuple[Literal["mark", "sticker"], ...] = ("mark", "sticker")
SUFFIXES = frozenset({".mp4", ".m4v", ".mov", ".webm", ".mkv", ".3gp"})
_ATOMS = (b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip", b"pnot")
_MATROSKA = b"\x1a\x45\xdf\xa3"


def is_clip(path: str | Path) -> bool:
    """Whether the file is a clip by its content, or is named like one. False when there is no such file."""
    path = Path(path)
    try:
        with path.open("rb") as stream:
            start = stream.read(12)
    except OSError:
        return False
    return start[4:8] in _ATOMS or start.startswith(_MATROSKA) or path.suffix.lower() in SUFFIXES


@dataclass(frozen=True, slots=True)
class Span:
    """Two points of the upright picture, (x, y) in pixels, and the distance between them in metres."""

    length_m: float
    first_px: tuple[float, float]
    second_px: tuple[float, float]


@dataclass(frozen=True, slots=True)
class ClipOptions:
    """How a clip is to be read; what is not given is found.

    view             ``above`` (camera over the ball) or ``front`` (camera in front of the player).
    capture_rate_hz  pictures a second when it was filmed, for slow motion that plays slower.
    scale            ``ball`` (when None), ``sheet``, or a span between two points.
    head             where the head is in the first picture, (x, y) in pixels of the upright picture; or
                     ``mark`` (one printed with the scale sheet) or ``sticker`` (coloured), stuck on it.
    left_handed      whether the player is left-handed; found when None.
    """

    view: View | None = None
    capture_rate_hz: float | None = None
    scale: str | Span | None = None
    head: tuple[float, float] | Literal["mark", "sticker"] | None = None
    left_handed: bool | None = None


def parse_view(text: str) -> View | None:
    """``above`` or ``front``; nothing for an empty text. Raises SettingsError."""
    words: dict[str, View] = {"above": "above", "front": "front"}
    if not text:
        return None
    if text.strip().lower() not in words:
        raise SettingsError(f"--view '{text}' is not known; write above or front.")
    return words[text.strip().lower()]


def parse_scale(text: str) -> str | Span | None:
    """``ball``, ``sheet``, or a length at two points as ``0.5m@x1,y1,x2,y2``. Raises SettingsError."""
    said = text.strip()
    if not said:
        return None
    if said.lower() in ("ball", "sheet"):
        return said.lower()
    length, at, places = said.partition("@")
    numbers = _numbers(places)
    if not at or len(numbers) != 4:
        raise SettingsError(
            f"--scale '{text}' is not known; write ball, sheet, or 0.5m@x1,y1,x2,y2 (pixels)."
        )
    span = Span(parse_length(length), (numbers[0], numbers[1]), (numbers[2], numbers[3]))
    apart_px = abs(complex(numbers[2] - numbers[0], numbers[3] - numbers[1]))
    if span.length_m <= 0.0 or apart_px < 10.0:
        raise SettingsError(
            f"--scale '{text}': give a length above 0 between points at least 10 pixels apart."
        )
    return span


def parse_head(text: str) -> tuple[float, float] | Literal["mark", "sticker"] | None:
    """A place in the picture as ``x,y``, ``mark`` or ``sticker``; nothing for an empty text.

    Raises SettingsError.
    """
    said = text.strip().lower()
    if not said:
        return None
    for stuck_on in STUCK_ON:
        if said == stuck_on:
            return stuck_on
    numbers = _numbers(text)
    if len(numbers) != 2 or min(numbers) < 0.0:
        raise SettingsError(
            f"--head '{text}' is not known; write x,y in pixels, such as 640,410, or mark or sticker for "
            "what is stuck on the head."
        )
    return numbers[0], numbers[1]


def parse_capture_rate(text: str) -> float | None:
    """Pictures a second; nothing for an empty text. Raises SettingsError."""
    if not text.strip():
        return None
    rate_hz = parse_quantity(text, "frequency", default_unit="Hz")
    if not 10.0 <= rate_hz <= 5000.0:
        raise SettingsError(f"--capture-rate '{text}' makes no sense; give pictures a second, such as 240.")
    return rate_hz


def _numbers(text: str) -> list[float]:
    try:
        return [float(part) for part in text.split(",")]
    except ValueError:
        return []
