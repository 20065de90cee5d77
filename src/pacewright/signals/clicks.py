"""Contacts by ear: short broadband bursts in wind, talk and room noise, while known beats may be sounding.

A causal detector in fixed blocks of half a millisecond; the practice page runs the same one, block for
block (`web/static/practice/clicks.js`). Method page: docs/methods/contact-sound.md.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pacewright.core.errors import SettingsError
from pacewright.core.recording import FloatArray

BANDS_HZ = ((1250.0, 2500.0), (2500.0, 5000.0), (5000.0, 10000.0), (10000.0, 18000.0))
BLOCKS_A_SECOND = 2000
BURST = 6
"""Blocks of a burst: 3 ms."""
BEFORE = 60
"""Blocks before it that it must stand out from: 30 ms, more than one period of a voice."""
LONG_S, HABIT_S = 1.0, 5.0
MEMORY_S = 1.0
"""How fast the memory of loud moments fades (its energy, to 1/e)."""
MEMORY_STEP = 1.5
"""The most by which 3 ms raise the memory (1.8 dB): a contact adds a few dB, a voice fills it."""
CALM = -0.7
"""Below this the rise says only that something loud has just been: the habit looks at what may exceed."""
LEAST_RISE = math.log(5.5)
"""A burst has 5.5 times (7.4 dB) the whitened energy of the loudest moment just before it, or more ..."""
HABIT_SDS = 6.0
"""... and stands this many standard deviations out of what the same figure has been doing."""
LEAST_BREADTH = math.log(1.6)
"""... and on the mean of its bands, in dB, is 2 dB over it: a contact is heard in all, a plosive in few."""
AFTER = (80, 140)
"""Blocks after its start in which a burst must have died away: 40 to 70 ms ..."""
SOON_AFTER = (20, 80)
"""... and already 10 to 40 ms: what rings on is no contact."""
LEFT_OVER = 0.2
BEAT_BLOCKS, BEAT_EARLY, BEAT_SLACK, BEATS_KEPT = 146, 6, 4, 5
BEAT_MARGIN = 2.0
BACKWARD_BEAT_S = 0.065
"""How long before its own first sample a beat that is played backward begins."""
START_BLOCKS = BURST + BEFORE
QUIET_START = 4000
"""Blocks at the start (two seconds) in which the memory only listens."""
DEAD, DEAD_REFUSED, SEARCH = 100, 20, 10
FINE_BEFORE, FINE_AFTER = 12, 8
"""Blocks round a burst in which its first sample is sought: 6 ms before, 4 ms after."""
LEAST_SD_S = 1e-4
QUANTUM = 1.0 / (12.0 * 32768.0**2)
"""Power of the rounding to 16 bits: no background is quieter."""
LEAST_RATE_HZ, MOST_RATE_HZ = 8000, 192000
_Q = (0.5411961001461970, 1.3065629648763766)


@dataclass(frozen=True, slots=True)
class Click:
    """A contact heard: when it began, with standard uncertainty, and how far it stood out, in dB."""

    time_s: float
    sd_s: float
    strength_db: float


@dataclass(frozen=True, slots=True)
class KnownBeat:
    """A beat known to sound: the time of its first sample in the stream, and which tone it is."""

    time_s: float
    tone: int = 0


def find_clicks(
    samples: ArrayLike, rate_hz: float, beats: Iterable[KnownBeat] | None = None, *, remembers: bool = True
) -> list[Click]:
    """All contacts in mono samples (n,), in order of time; see `ClickDetector`.

    The memory listens first to the beginning played backward, so that contacts are found from the first
    sample on.
    """
    sound = np.asarray(samples, dtype=np.float64).ravel()
    known = list(beats or ())
    if not remembers or sound.size == 0:
        detector = ClickDetector(rate_hz, known, remembers=remembers)
        return detector.push(sound) + detector.finish()
    lead = QUIET_START * ClickDetector(rate_hz).block
    lead_s = lead / rate_hz
    backward = [
        # A tone of its own: what is learnt of it says nothing of the beats played forward.
        KnownBeat(lead_s - beat.time_s - BACKWARD_BEAT_S, -1)
        for beat in known
        if 0.01 < beat.time_s < lead_s
    ]
    shifted = [KnownBeat(beat.time_s + lead_s, beat.tone) for beat in known]
    detector = ClickDetector(rate_hz, [*backward, *shifted])
    found = detector.push(np.pad(sound[:lead], (lead, 0), mode="symmetric")[:lead])
    found += detector.push(sound) + detector.finish()
    return [replace(click, time_s=max(click.time_s - lead_s, 0.0)) for click in found]


class ClickDetector:
    """The streaming detector: push samples as they come; the answers do not depend on the size of the pieces.

    ``beats`` are known to sound in the stream; a contact on top of one is found where it stands out of what
    that tone has sounded like so far. Answers come about 80 ms after the contact. With ``remembers`` a burst
    must also stand out from the loud moments of the last seconds, so that talk is not taken for contacts;
    without, bursts that follow each other at a beat (a metronome, taps) are all found.
    """

    def __init__(
        self, rate_hz: float, beats: Iterable[KnownBeat] | None = None, *, remembers: bool = True
    ) -> None:
        """Raises SettingsError for a rate outside 8 to 192 kHz."""
        if not LEAST_RATE_HZ <= rate_hz <= MOST_RATE_HZ:
            raise SettingsError(f"A rate of {rate_hz:g} Hz is outside {LEAST_RATE_HZ} to {MOST_RATE_HZ} Hz.")
        self.rate_hz = float(rate_hz)
        self.block = math.floor(rate_hz / BLOCKS_A_SECOND + 0.5)
        self._bands = usable_bands(rate_hz)
        self._sections = [band_sections(low, high, rate_hz) for low, high in self._bands]
        self._filter_states = [np.zeros((4, 2)) for _ in self._bands]
        width_hz = np.array([[high - low] for low, high in self._bands])
        self._floor = BURST * self.block * QUANTUM * width_hz / (rate_hz / 2.0)
        self._freedom = float(width_hz.sum()) * 2.0 / rate_hz
        count = len(self._bands)
        # Histories, all starting at block `_first`: filtered samples, energy of each block, of each burst.
        self._first = 0
        self._rest = np.empty(0)
        self._filtered = np.empty((count, 0))
        self._energy = np.empty((count, 0))
        self._reference = np.empty((count, 0))
        self._rise = np.empty(0)
        self._threshold = np.empty(0)
        self._scan = QUIET_START if remembers else START_BLOCKS
        self._remembers = remembers
        self._memory = [0.0] * count
        self._moments = [(0.0, 0.0)] * count
        self._long, self._long_weight = np.zeros((count, 1)), 0.0
        # What the rise does in steady noise, as a second's worth of memory to start from.
        weight = 1.0 - math.exp(-1.0 / HABIT_S)
        self._habit = np.array([weight, -0.35 * weight, (0.35**2 + 0.06) * weight])
        self._beats: list[KnownBeat] = []
        self.add_beats(beats or ())
        self._heard: dict[int, list[FloatArray]] = {}

    def add_beats(self, beats: Iterable[KnownBeat]) -> None:
        """Beats that will sound later than what has been pushed so far.

        Of two that overlap (73 ms) the first is kept.
        """
        kept: list[KnownBeat] = []
        earliest = self._first + self._rise.size - BEAT_BLOCKS + 1
        for beat in sorted([*self._beats, *beats], key=lambda beat: beat.time_s):
            start = self._beat_start(beat)
            if start >= earliest:
                kept.append(beat)
                earliest = start + BEAT_BLOCKS
        self._beats = kept

    def push(self, samples: ArrayLike) -> list[Click]:
        """Contacts decided by these further samples."""
        new = np.asarray(samples, dtype=np.float64).ravel()
        found = []
        # A second at a time bounds the memory, and lets the beats be learnt in their order.
        step = int(self.rate_hz)
        for start in range(0, new.size, step):
            self._take(new[start : start + step])
            found += self._decide()
        return found

    def finish(self) -> list[Click]:
        """Contacts in what is left, as if silence followed."""
        return self.push(np.zeros(self.block * (AFTER[1] + SEARCH + BURST + 1) + self.block))

    # -- what each block holds -------------------------------------------------------------------------

    def _take(self, samples: FloatArray) -> None:
        from scipy.signal import sosfilt

        pending = np.concatenate([self._rest, samples])
        blocks = pending.size // self.block
        ready, self._rest = pending[: blocks * self.block], pending[blocks * self.block :]
        if not blocks:
            return
        filtered = np.empty((len(self._bands), ready.size))
        for k, sections in enumerate(self._sections):
            filtered[k], self._filter_states[k] = sosfilt(sections, ready, zi=self._filter_states[k])
        energy = (filtered**2).reshape(len(self._bands), blocks, self.block).sum(axis=2)
        self._filtered = np.concatenate([self._filtered, filtered], axis=1)
        self._energy = np.concatenate([self._energy, energy], axis=1)
        self._weigh()

    def _weigh(self) -> None:
        """Rise and threshold of every block whose burst is complete."""
        done = self._rise.size
        ready = self._energy.shape[1] - BURST + 1
        if ready <= done:
            return
        burst = _sums(self._energy, BURST)
        usual = np.maximum(self._long_means(done, ready) * BURST, self._floor)
        earlier = np.pad(burst, ((0, 0), (START_BLOCKS, 0)))[:, done + 1 : ready + BEFORE]
        reference = np.maximum(usual, _sliding_max(earlier, BEFORE))
        is_beat = self._mask_beats(burst, reference, done, ready)
        if self._remembers:
            self._remember(burst, reference, usual, is_beat, done)
        rise = np.log(np.maximum(np.mean(burst[:, done:ready] / reference, axis=0), 1e-30))
        self._reference = np.concatenate([self._reference, reference], axis=1)
        self._rise = np.concatenate([self._rise, rise])
        self._threshold = np.concatenate([self._threshold, self._thresholds(rise)])

    def _remember(
        self,
        burst: FloatArray,
        reference: FloatArray,
        usual: FloatArray,
        is_beat: NDArray[np.bool_],
        done: int,
    ) -> None:
        """Raise the reference to the memory of loud moments, which is renewed every ``BURST`` blocks."""
        fade = math.exp(-BURST / (MEMORY_S * BLOCKS_A_SECOND))
        count = reference.shape[1]
        for at in range(-((self._first + done) % BURST), count, BURST):
            low, high = max(at, 0), min(at + BURST, count)
            if at >= 0:
                # The moment that ended as this one begins.
                heard = self._moments
                self._memory = [
                    max(fade * old, min(now, MEMORY_STEP * max(old, expected)))
                    for old, (now, expected) in zip(self._memory, heard, strict=True)
                ]
            for band, kept in enumerate(self._memory):
                np.maximum(reference[band, low:high], kept, out=reference[band, low:high])
            if at >= 0:
                quiet = bool(is_beat[at])
                self._moments = [
                    (0.0 if quiet else float(burst[band, done + at]), float(usual[band, at]))
                    for band in range(reference.shape[0])
                ]

    def _long_means(self, done: int, ready: int) -> FloatArray:
        """Mean energy of a block over about the last second, up to the block before each."""
        from scipy.signal import lfilter

        keep = math.exp(-1.0 / (LONG_S * BLOCKS_A_SECOND))
        energy = self._energy[:, done:ready]
        sums, _ = lfilter([1.0 - keep], [1.0, -keep], energy, axis=1, zi=keep * self._long)
        weights, _ = lfilter(
            [1.0 - keep], [1.0, -keep], np.ones(ready - done), zi=np.array([keep * self._long_weight])
        )
        earlier = np.concatenate([self._long, sums[:, :-1]], axis=1)
        earlier_weights = np.concatenate([[self._long_weight], weights[:-1]])
        self._long, self._long_weight = sums[:, -1:].copy(), float(weights[-1])
        means: FloatArray = earlier / np.maximum(earlier_weights, 1e-300)
        return means

    def _thresholds(self, rise: FloatArray) -> FloatArray:
        """What each rise must exceed, by what the rise did before; bursts count no more than the least."""
        from scipy.signal import lfilter

        keep = math.exp(-1.0 / (HABIT_S * BLOCKS_A_SECOND))
        tame = np.clip(rise, CALM, LEAST_RISE)
        moments = np.stack([np.ones_like(tame), tame, tame**2])
        sums, _ = lfilter([1.0 - keep], [1.0, -keep], moments, axis=1, zi=keep * self._habit[:, None])
        earlier = np.concatenate([self._habit[:, None], sums[:, :-1]], axis=1)
        self._habit = sums[:, -1].copy()
        mean = earlier[1] / earlier[0]
        variance = np.maximum(earlier[2] / earlier[0] - mean**2, 0.0)
        usual = mean + HABIT_SDS * np.sqrt(variance)
        return np.maximum(LEAST_RISE, usual) if self._remembers else np.full(rise.size, LEAST_RISE)

    # -- beats that are known --------------------------------------------------------------------------

    def _mask_beats(
        self, burst: FloatArray, reference: FloatArray, done: int, ready: int
    ) -> NDArray[np.bool_]:
        """Raise the reference to what each known beat sounds like; learn it once it is over.

        Returns which blocks lie in beats.
        """
        is_beat = np.zeros(ready - done, dtype=np.bool_)
        while self._beats:
            beat = self._beats[0]
            start = self._beat_start(beat) - self._first
            low, high = max(start, done), min(start + BEAT_BLOCKS, ready)
            if high > low:
                part = reference[:, low - done : high - done]
                np.maximum(part, self._expected(beat.tone)[:, low - start : high - start], out=part)
                is_beat[low - done : high - done] = True
            if start + BEAT_BLOCKS > ready:
                break
            if start >= 0:
                heard = self._heard.setdefault(beat.tone, [])
                heard.append(burst[:, start : start + BEAT_BLOCKS].copy())
                del heard[:-BEATS_KEPT]
            self._beats.pop(0)
        return is_beat

    def _beat_start(self, beat: KnownBeat) -> int:
        return math.floor(beat.time_s * self.rate_hz / self.block) - BEAT_EARLY

    def _expected(self, tone: int) -> FloatArray:
        """Energy of a beat of this tone, from the last ones heard; unbounded while none has been."""
        heard = self._heard.get(tone)
        if not heard:
            return np.full((len(self._bands), BEAT_BLOCKS), math.inf)
        usual = np.median(np.stack(heard), axis=0)
        padded = np.pad(usual, ((0, 0), (BEAT_SLACK, BEAT_SLACK)))
        return BEAT_MARGIN * _sliding_max(padded, 2 * BEAT_SLACK + 1)

    # -- decisions -------------------------------------------------------------------------------------

    def _decide(self) -> list[Click]:
        found = []
        last = self._energy.shape[1] + self._first - AFTER[1] - SEARCH - BURST
        while self._scan <= last:
            at = self._scan - self._first
            stop = last + 1 - self._first
            above = np.flatnonzero(self._rise[at:stop] > self._threshold[at:stop])
            if above.size == 0:
                self._scan = last + 1
                break
            start = at + int(above[0])
            peak = start + int(np.argmax(self._rise[start : start + SEARCH + 1]))
            if self._is_broad(peak) and self._has_died_away(peak):
                found.append(self._click(peak))
                self._scan = peak + self._first + DEAD
            else:
                self._scan = peak + self._first + DEAD_REFUSED
        self._forget()
        return found

    def _is_broad(self, peak: int) -> bool:
        if not self._remembers:
            return True
        burst = self._energy[:, peak : peak + BURST].sum(axis=1)
        levels = np.log(np.maximum(burst / self._reference[:, peak], 1e-30))
        return bool(np.mean(levels) > LEAST_BREADTH)

    def _has_died_away(self, peak: int) -> bool:
        # Ticks of a metronome may last longer than a contact.
        return all(
            self._left_over(peak, *window) < LEFT_OVER * math.exp(self._rise[peak])
            for window in ((SOON_AFTER, AFTER) if self._remembers else (AFTER,))
        )

    def _left_over(self, peak: int, low: int, high: int) -> float:
        after = self._energy[:, peak + low : peak + high] * BURST
        whitened = np.mean(after / self._reference[:, peak : peak + 1], axis=0)
        return float(np.median(whitened))

    def _click(self, peak: int) -> Click:
        """When the burst began: the one change of variance that explains the samples round it best.

        After Maeda (Zisin 38:365, 1985). The likelihoods of all samples as the first make its mean and
        standard deviation; neighbours in a band-limited signal are not independent, so each counts as
        ``_freedom`` of a sample.
        """
        low, high = (peak - FINE_BEFORE) * self.block, (peak + FINE_AFTER) * self.block
        scale = self._reference[:, peak : peak + 1] / (BURST * self.block)
        power = np.sum(self._filtered[:, low:high] ** 2 / scale, axis=0)
        before = np.cumsum(power)[:-1]
        count = np.arange(1, power.size)
        after = np.maximum(before[-1] + power[-1] - before, 1e-300)
        margin = 2 * self.block
        fit = (
            -0.5
            * self._freedom
            * (
                count * np.log(np.maximum(before, 1e-300) / count)
                + (power.size - count) * np.log(after / (power.size - count))
            )
        )
        first = count[margin - 1 : -margin]
        weight = np.exp(fit[margin - 1 : -margin] - np.max(fit[margin - 1 : -margin]))
        weight /= weight.sum()
        mean = float(weight @ first)
        spread = math.sqrt(float(weight @ (first - mean) ** 2) + 1.0 / 12.0) / self.rate_hz
        start = self._first * self.block + low
        return Click(
            time_s=(start + mean) / self.rate_hz,
            sd_s=math.hypot(spread, LEAST_SD_S),
            strength_db=float(self._rise[peak]) * 10.0 / math.log(10.0),
        )

    def _forget(self) -> None:
        """Drop what no later block looks back at."""
        spare = min(self._scan - self._first - START_BLOCKS, self._rise.size - START_BLOCKS - BEAT_BLOCKS)
        if spare <= 0:
            return
        self._first += spare
        self._filtered = self._filtered[:, spare * self.block :]
        self._energy = self._energy[:, spare:]
        self._reference = self._reference[:, spare:]
        self._rise, self._threshold = self._rise[spare:], self._threshold[spare:]


def usable_bands(rate_hz: float) -> list[tuple[float, float]]:
    """The bands that a sampling rate carries."""
    highest = 0.45 * rate_hz
    return [(low, min(high, highest)) for low, high in BANDS_HZ if min(high, highest) >= 1.2 * low]


def band_sections(low_hz: float, high_hz: float, rate_hz: float) -> FloatArray:
    """Butterworth, fourth order each way: four biquads (4, 6) as b0 b1 b2 1 a1 a2."""
    rows = []
    for corner_hz, is_high_pass in ((low_hz, True), (high_hz, False)):
        angle = 2.0 * math.pi * corner_hz / rate_hz
        cosine = math.cos(angle)
        for q in _Q:
            alpha = math.sin(angle) / (2.0 * q)
            middle = -(1.0 + cosine) if is_high_pass else 1.0 - cosine
            outer, a0 = abs(middle) / 2.0, 1.0 + alpha
            rows.append([outer / a0, middle / a0, outer / a0, 1.0, -2.0 * cosine / a0, (1.0 - alpha) / a0])
    return np.array(rows)


def _sums(values: FloatArray, width: int) -> FloatArray:
    """Sums of ``width`` neighbours along the last axis, each from its place onward."""
    count = values.shape[-1] - width + 1
    total = values[..., :count].copy()
    for k in range(1, width):
        total += values[..., k : k + count]
    return total


def _sliding_max(values: FloatArray, width: int) -> FloatArray:
    """The largest of ``width`` neighbours along the last axis, wherever all of them are there."""
    largest: FloatArray = np.lib.stride_tricks.sliding_window_view(values, width, axis=-1).max(axis=-1)
    return largest
