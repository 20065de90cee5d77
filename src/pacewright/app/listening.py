"""Use case: hear contacts in a sound, the beats that sound with them, and how far they are apart.

Method page: docs/methods/contact-sound.md; contract: docs/contracts/listen-json.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from pacewright.app.sound_files import Sound, read_sound
from pacewright.core.errors import SettingsError
from pacewright.core.station import contact_share
from pacewright.render.beats import HIGHEST_BPM, LOWEST_BPM, PITCH_HZ, BeatRole
from pacewright.signals.beat_times import Grid, find_grids, find_tones, repeating_tones
from pacewright.signals.clicks import KnownBeat, find_clicks

if TYPE_CHECKING:
    from pacewright.core.recording import FloatArray

__all__ = [
    "Contact",
    "Heard",
    "HeardBeat",
    "ListenOptions",
    "heard_dict",
    "listen",
    "listen_to",
    "read_sound",
]

SCHEMA = "pacewright.listen/1"
ROLES: tuple[BeatRole, ...] = ("count-in", "start", "back", "through", "rest")
STATED_FILLED, UNSTATED_FILLED, LEAST_UNSTATED = 0.4, 0.6, 8
"""Share of its places at which a train of our tones must be heard (rest beats are soft), and how many tones
make a train where no beat was stated: a voice now and then sounds like a tone."""
LEAST_CONTACTS_FOR_PHASE = 3
BeatsFrom = Literal["none", "tones", "clicks", "stated"]


@dataclass(frozen=True, slots=True)
class ListenOptions:
    """``beats_per_minute`` as stated, or None; the markers give the place of contact between the beats."""

    beats_per_minute: float | None = None
    back_marker_m: float = 1.0
    through_marker_m: float = 1.0


@dataclass(frozen=True, slots=True)
class HeardBeat:
    """A beat that sounded; ``role`` is empty where any metronome may have made it."""

    time_s: float
    role: str = ""


@dataclass(frozen=True, slots=True)
class Contact:
    """A contact heard, and ``beat_error_s``, how late it came against the beat: None where none applies."""

    time_s: float
    sd_s: float
    strength_db: float
    beat_error_s: float | None = None


@dataclass(frozen=True, slots=True)
class Heard:
    """What is in a sound. ``beats_from`` says how its beats are known."""

    source: str
    duration_s: float
    rate_hz: float
    beats_per_minute: float | None
    beats_from: BeatsFrom
    beats: tuple[HeardBeat, ...]
    contacts: tuple[Contact, ...]


@dataclass(frozen=True, slots=True)
class _Sounding:
    """Beats as found: those to be known to the detector, and the grid that they lie on."""

    kind: BeatsFrom
    interval_s: float
    beats: tuple[HeardBeat, ...] = ()
    known: tuple[KnownBeat, ...] = ()
    grids: tuple[Grid, ...] = field(default=())


def listen(path: str | Path, options: ListenOptions | None = None) -> Heard:
    """Hear the contacts and beats of a sound file.

    Raises ReadError for a file that is no sound, SettingsError for a beat or markers that make no sense.
    """
    return listen_to(read_sound(path), options, source=str(path))


def listen_to(sound: Sound, options: ListenOptions | None = None, *, source: str = "") -> Heard:
    """The same for a sound already read."""
    options = options or ListenOptions()
    share = _checked_share(options)
    sounding = _sounding(sound.samples, sound.rate_hz, options.beats_per_minute)
    clicks = find_clicks(sound.samples, sound.rate_hz, sounding.known)
    errors = _errors([click.time_s for click in clicks], sounding, share)
    return Heard(
        source=source,
        duration_s=sound.duration_s,
        rate_hz=sound.rate_hz,
        beats_per_minute=60.0 / sounding.interval_s if sounding.interval_s > 0.0 else None,
        beats_from=sounding.kind,
        beats=sounding.beats,
        contacts=tuple(
            Contact(click.time_s, click.sd_s, click.strength_db, error)
            for click, error in zip(clicks, errors, strict=True)
        ),
    )


def _checked_share(options: ListenOptions) -> float:
    bpm = options.beats_per_minute
    if bpm is not None and not LOWEST_BPM <= bpm <= HIGHEST_BPM:
        raise SettingsError(f"{bpm:g} beats a minute is outside {LOWEST_BPM} to {HIGHEST_BPM}.")
    return contact_share(options.back_marker_m, options.through_marker_m)


def _sounding(samples: FloatArray, rate_hz: float, bpm: float | None) -> _Sounding:
    """Our own tones, or else any regular clicks, or else the beat that was stated."""
    stated_s = None if bpm is None else 60.0 / bpm
    own = _own_tones(samples, rate_hz, stated_s)
    if own is not None:
        return own
    times = [click.time_s for click in find_clicks(samples, rate_hz, remembers=False)]
    grids = find_grids(times, interval_s=stated_s, most=1) if stated_s else find_grids(times)
    if not grids:
        return _Sounding("none" if stated_s is None else "stated", stated_s or 0.0)
    ticks = sorted((time, k) for k, grid in enumerate(grids) for time in grid.times_s)
    return _Sounding(
        "clicks",
        grids[0].interval_s,
        tuple(HeardBeat(time) for time, _ in ticks),
        tuple(KnownBeat(time, k) for time, k in ticks),
        tuple(grids),
    )


def _own_tones(samples: FloatArray, rate_hz: float, stated_s: float | None) -> _Sounding | None:
    tones = find_tones(samples, rate_hz, [PITCH_HZ[role] for role in ROLES])
    filled = STATED_FILLED if stated_s else UNSTATED_FILLED
    grids = find_grids([tone.time_s for tone in tones], interval_s=stated_s, most=1, least_filled=filled)
    if not grids or (stated_s is None and len(grids[0].times_s) < LEAST_UNSTATED):
        return None
    heard = {tone.time_s: tone.tone for tone in tones}
    grid = grids[0]
    placed = repeating_tones(grid, [heard[time] for time in grid.times_s])
    return _Sounding(
        "tones",
        grid.interval_s,
        tuple(HeardBeat(one.time_s, ROLES[one.tone]) for one in placed),
        tuple(KnownBeat(one.time_s, one.tone) for one in placed),
        (grid,),
    )


def _errors(times_s: Sequence[float], sounding: _Sounding, share: float) -> list[float | None]:
    """How late each contact came. ``share`` of a beat after the back beat is where it belongs."""
    step = sounding.interval_s
    if sounding.kind == "tones":
        places = [beat.time_s + share * step for beat in sounding.beats if beat.role == "back"]
        return [_nearest_error(time, places, step) for time in times_s]
    if sounding.kind == "clicks":
        return [_wrapped(time - sounding.grids[0].first_s - share * step, step) for time in times_s]
    if sounding.kind == "stated" and len(times_s) >= LEAST_CONTACTS_FOR_PHASE:
        phase = _common_phase(times_s, step)
        return [_wrapped(time - phase, step) for time in times_s]
    return [None] * len(times_s)


def _nearest_error(time_s: float, places_s: Sequence[float], within_s: float) -> float | None:
    """Against the nearest stroke; None in the rest between strokes, a beat away or more."""
    errors = [time_s - place for place in places_s]
    nearest = min(errors, key=abs, default=math.inf)
    return nearest if abs(nearest) < within_s else None


def _wrapped(error_s: float, step_s: float) -> float:
    return error_s - step_s * math.floor(error_s / step_s + 0.5)


def _common_phase(times_s: Sequence[float], step_s: float) -> float:
    """The place within a beat that the contacts share (circular mean)."""
    angles = [2.0 * math.pi * time / step_s for time in times_s]
    mean = math.atan2(sum(map(math.sin, angles)), sum(map(math.cos, angles)))
    return mean / (2.0 * math.pi) * step_s


def heard_dict(heard: Heard) -> dict[str, Any]:
    """What ``listen --json`` prints."""
    return {
        "schema": SCHEMA,
        "source": heard.source,
        "duration_s": heard.duration_s,
        "rate_hz": heard.rate_hz,
        "beats_per_minute": heard.beats_per_minute,
        "beats_from": heard.beats_from,
        "beats": [beat.time_s for beat in heard.beats],
        "beat_roles": [beat.role or None for beat in heard.beats],
        "contacts": [
            {
                "time_s": contact.time_s,
                "sd": contact.sd_s,
                "strength_db": contact.strength_db,
                "beat_error_s": contact.beat_error_s,
            }
            for contact in heard.contacts
        ],
    }
