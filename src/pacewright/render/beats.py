"""Click track: start moving, back marker, through marker, then beats of rest.

A beat falls on sample round(k·60·rate / beats a minute), worked out for each k from whole numbers, so an
error of rounding never adds up. The onset of a click is its first sample, and that sample is not zero.
See `docs/methods/click-track.md`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pacewright.core.errors import SettingsError
from pacewright.core.recording import FloatArray

BeatRole = Literal["count-in", "start", "back", "through", "rest"]
SAMPLE_RATES_HZ = (44100, 48000)

PITCH_HZ: dict[BeatRole, float] = {
    "count-in": 698.0,
    "start": 880.0,
    "back": 1175.0,
    "through": 1760.0,
    "rest": 587.0,
}
"""Rising through the stroke; at least three semitones apart; all within reach of a telephone's speaker."""

_LOUDNESS: dict[BeatRole, float] = {
    "count-in": 0.5,
    "start": 1.0,
    "back": 1.0,
    "through": 1.0,
    "rest": 0.35,
}
_CLICK_S = Fraction(6, 100)
_ATTACK_S = Fraction(2, 1000)
_DECAY_TIME_S = 0.014
_LONGEST_S = 3600

LOWEST_BPM, HIGHEST_BPM = 30, 200


@dataclass(frozen=True, slots=True)
class BeatPlan:
    """What is to be played.

    ``beats_per_minute`` 30 to 200; ``repeats`` strokes, each of three beats and ``rest_beats`` of rest;
    ``count_in_beats`` come before the first; ``level_db`` is the peak against full scale (−60 to 0).
    Raises SettingsError when a setting does not make sense or the track would last over an hour.
    """

    beats_per_minute: float = 90.0
    repeats: int = 10
    rest_beats: int = 5
    count_in_beats: int = 3
    level_db: float = -3.0
    rate_hz: int = 48000

    def __post_init__(self) -> None:
        if not LOWEST_BPM <= self.beats_per_minute <= HIGHEST_BPM:
            raise SettingsError(
                f"{self.beats_per_minute:g} beats a minute is outside {LOWEST_BPM} to {HIGHEST_BPM}; "
                "90 is a common start."
            )
        if self.repeats < 1 or self.rest_beats < 0 or self.count_in_beats < 0:
            raise SettingsError("A click track needs at least one repeat, and no negative number of beats.")
        if not -60.0 <= self.level_db <= 0.0:
            raise SettingsError(
                f"A level of {self.level_db:g} dB is outside −60 to 0; −3 is a common choice."
            )
        if self.rate_hz not in SAMPLE_RATES_HZ:
            raise SettingsError(f"A rate of {self.rate_hz} Hz is not 44100 or 48000.")
        if self.beat_count * 60 > _LONGEST_S * self.beats_per_minute:
            minutes = self.beat_count / self.beats_per_minute
            raise SettingsError(f"The click track would last {minutes:.0f} minutes; ask for fewer repeats.")

    @property
    def roles(self) -> tuple[BeatRole, ...]:
        """What each beat stands for, in order."""
        one_stroke: list[BeatRole] = ["start", "back", "through"]
        one_stroke += ["rest"] * self.rest_beats
        before: list[BeatRole] = ["count-in"] * self.count_in_beats
        return tuple(before + one_stroke * self.repeats)

    @property
    def beat_count(self) -> int:
        """Number of beats in the track."""
        return self.count_in_beats + self.repeats * (3 + self.rest_beats)


@dataclass(frozen=True, slots=True)
class ClickTrack:
    """Sound and where its beats are.

    ``samples`` (n,) float32 in −1..1, one channel; ``onset_indices`` (k,) the first sample of each click;
    ``roles`` what each click stands for. The track ends one beat after its last click, so that it can be
    played in a loop.
    """

    samples: NDArray[np.float32]
    onset_indices: NDArray[np.int64]
    roles: tuple[BeatRole, ...]
    rate_hz: int


def click_track(plan: BeatPlan) -> ClickTrack:
    """The click track of a plan; a pure function."""
    samples_a_beat = _samples_a_beat(plan.beats_per_minute, plan.rate_hz)
    onsets = [beat_onset_index(k, samples_a_beat) for k in range(plan.beat_count + 1)]
    samples = np.zeros(onsets[-1], dtype=np.float32)
    clicks = {role: _click(role, plan).astype(np.float32) for role in set(plan.roles)}
    for onset, role in zip(onsets, plan.roles, strict=False):
        click = clicks[role]
        samples[onset : onset + click.size] = click
    return ClickTrack(samples, np.array(onsets[:-1], dtype=np.int64), plan.roles, plan.rate_hz)


def beat_onset_index(beat: int, samples_a_beat: Fraction) -> int:
    """The sample on which beat number ``beat`` (from 0) falls: the nearest one, half a sample upward."""
    return math.floor(beat * samples_a_beat + Fraction(1, 2))


def _samples_a_beat(beats_per_minute: float, rate_hz: int) -> Fraction:
    # The decimal that was asked, not its binary neighbour: 92.1 is 921/10.
    return 60 * rate_hz / Fraction(repr(float(beats_per_minute)))


def _click(role: BeatRole, plan: BeatPlan) -> FloatArray:
    """A short tone: soft attack (raised cosine, 2 ms), then an exponential fall, faded to zero at 60 ms.

    The tone starts at its crest and the attack one step above zero, so that the first sample sounds.
    """
    count = int(_CLICK_S * plan.rate_hz)
    attack_count = int(_ATTACK_S * plan.rate_hz)
    step = np.arange(count)
    tone = np.cos(2.0 * np.pi * PITCH_HZ[role] * step / plan.rate_hz)
    attack = np.sin(0.5 * np.pi * np.minimum((step + 1) / (attack_count + 1), 1.0)) ** 2
    decay = np.exp(-np.maximum(step - attack_count, 0) / (_DECAY_TIME_S * plan.rate_hz))
    fade = np.cos(0.5 * np.pi * step / count) ** 2
    shape: FloatArray = tone * attack * decay * fade
    peak = 10.0 ** (plan.level_db / 20.0) * _LOUDNESS[role]
    shape *= peak / np.max(np.abs(shape))
    return shape
