"""Beats in a sound: tones whose shape is known, by a matched filter, or any regular clicks, by their period.

Method page: docs/methods/contact-sound.md.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pacewright.core.recording import FloatArray

TONE_S, ATTACK_S, DECAY_S = 0.06, 0.002, 0.014
MATCHED_S = 0.025
"""What is matched of a tone: nearly all its energy, and no more of the noise than that."""
LEAST_LIKENESS = 0.5
"""Share of the amplitude in the voice's range that the tone explains, where a tone is taken to begin."""
SHORTEST_S, LONGEST_S = 0.28, 2.1
LEAST_BEATS = 5
MOST_MISSED = 8
LEAST_FILLED = 0.7
"""Share of the places of a grid that must have sounded."""
GRID_TOLERANCE_S = 0.008
VOICE_HZ = (400.0, 2600.0)
QUIET = 1e-10
"""Energy below which nothing is a tone: about the rounding to 16 bits over what is matched."""
_PIECE_S = 10.0
_MOST_STARTS = 40


@dataclass(frozen=True, slots=True)
class ToneBeat:
    """A tone found: when it began, which of the tones asked it is, and how much of the sound it explains."""

    time_s: float
    tone: int
    likeness: float


@dataclass(frozen=True, slots=True)
class Grid:
    """Regular clicks: ``times_s`` those heard, near ``first_s`` + k·``interval_s``."""

    first_s: float
    interval_s: float
    times_s: tuple[float, ...]
    spread_s: float


def tone_shape(pitch_hz: float, rate_hz: float) -> FloatArray:
    """The click of a beat, peak 1: soft attack, exponential fall, fade (docs/methods/click-track.md)."""
    count, attack = int(TONE_S * rate_hz), int(ATTACK_S * rate_hz)
    step = np.arange(count)
    envelope = np.sin(0.5 * np.pi * np.minimum((step + 1) / (attack + 1), 1.0)) ** 2
    envelope *= np.exp(-np.maximum(step - attack, 0) / (DECAY_S * rate_hz))
    envelope *= np.cos(0.5 * np.pi * step / count) ** 2
    shape = np.cos(2.0 * np.pi * pitch_hz * step / rate_hz) * envelope
    scaled: FloatArray = shape / np.max(np.abs(shape))
    return scaled


def find_tones(samples: ArrayLike, rate_hz: float, pitches_hz: Sequence[float]) -> list[ToneBeat]:
    """Where the known tones begin: peaks of the likeness of the sound to each, the likeliest tone of each.

    A matched filter with unknown phase and level (room and speaker turn the phase). Within 60 ms the
    likeliest stands.
    """
    sound = np.asarray(samples, dtype=np.float64).ravel()
    piece, overlap = int(_PIECE_S * rate_hz), int(2 * TONE_S * rate_hz)
    found: list[ToneBeat] = []
    for start in range(0, max(sound.size - overlap, 1), piece):
        part = sound[start : start + piece + overlap]
        if part.size < overlap:
            break
        likeness = _likenesses(part, rate_hz, pitches_hz)
        found += _peaks(likeness[:, : min(piece, part.size)], start, rate_hz)
    return _likeliest(found)


def _likenesses(part: FloatArray, rate_hz: float, pitches_hz: Sequence[float]) -> FloatArray:
    """(tones, samples): share of the amplitude from each sample on that each tone explains, 0 to 1."""
    count = int(MATCHED_S * rate_hz)
    size = 1 << (part.size + count).bit_length()
    frequency = np.fft.fftfreq(size, 1.0 / rate_hz)
    spectrum = np.fft.fft(part, size)
    spectrum[(np.abs(frequency) < VOICE_HZ[0]) | (np.abs(frequency) > VOICE_HZ[1])] = 0.0
    voice = np.fft.ifft(spectrum).real[: part.size + count]
    energy = np.cumsum(np.concatenate([[0.0], voice**2]))
    local = np.sqrt(np.maximum(energy[count:] - energy[:-count], QUIET)[: part.size])
    envelope = np.abs(tone_shape(0.0, rate_hz))[:count]
    norm = math.sqrt(float(np.sum(envelope**2)) / 2.0)
    rows = []
    for pitch in pitches_hz:
        # Both phases at once: the tone as a complex wave.
        wave = envelope * np.exp(2j * np.pi * pitch * np.arange(count) / rate_hz)
        matched = np.fft.ifft(spectrum * np.conj(np.fft.fft(wave, size)))[: part.size]
        rows.append(np.abs(matched) / (norm * local))
    return np.array(rows)


def _peaks(likeness: FloatArray, start: int, rate_hz: float) -> list[ToneBeat]:
    best = likeness.max(axis=0)
    inner = (best[1:-1] >= best[:-2]) & (best[1:-1] > best[2:]) & (best[1:-1] >= LEAST_LIKENESS)
    found = []
    for at in np.flatnonzero(inner) + 1:
        left, middle, right = best[at - 1 : at + 2]
        bend = left - 2.0 * middle + right
        offset = 0.5 * (left - right) / bend if bend < 0.0 else 0.0
        tone = int(np.argmax(likeness[:, at]))
        found.append(ToneBeat((start + at + offset) / rate_hz, tone, float(middle)))
    return found


def _likeliest(found: Sequence[ToneBeat]) -> list[ToneBeat]:
    kept: list[ToneBeat] = []
    for beat in sorted(found, key=lambda one: -one.likeness):
        if all(abs(beat.time_s - other.time_s) >= TONE_S for other in kept):
            kept.append(beat)
    return sorted(kept, key=lambda one: one.time_s)


def find_grids(
    times_s: ArrayLike,
    *,
    interval_s: float | None = None,
    most: int = 2,
    least_filled: float = LEAST_FILLED,
) -> list[Grid]:
    """Up to ``most`` trains of regular clicks among the times (n,), the one with most clicks first.

    ``interval_s`` where the beat was stated: only trains at it, within 2 %. A train has five clicks or more,
    and the share ``least_filled`` of its places.
    """
    left = np.sort(np.asarray(times_s, dtype=np.float64).ravel())
    grids: list[Grid] = []
    while len(grids) < most:
        grid = _best_grid(left, interval_s, least_filled)
        if grid is None:
            break
        grids.append(grid)
        left = left[~np.isin(left, grid.times_s)]
    return grids


def _best_grid(times: FloatArray, stated_s: float | None, least_filled: float) -> Grid | None:
    best: Grid | None = None
    for interval in _intervals(times, stated_s):
        for first in _starts(times, interval):
            grid = _fitted(times, first, interval, least_filled)
            if grid is not None and (best is None or _worth(grid) > _worth(best)):
                best = grid
        if best is not None and len(best.times_s) > 0.9 * times.size:
            break
    return best


def _starts(times: FloatArray, interval: float) -> list[float]:
    """The first clicks that another follows at the interval; a train begins with one of them."""
    near = np.abs(times[None, :] - times[:, None] - interval) < GRID_TOLERANCE_S
    return [float(time) for time in times[near.any(axis=1)][:_MOST_STARTS]]


def _worth(grid: Grid) -> tuple[int, float]:
    return len(grid.times_s), -grid.spread_s


def _intervals(times: FloatArray, stated_s: float | None) -> list[float]:
    """Intervals worth trying, the commonest first: those between clicks up to four apart."""
    if times.size < LEAST_BEATS:
        return []
    gaps = np.concatenate([times[k:] - times[:-k] for k in range(1, min(7, times.size))])
    low, high = (SHORTEST_S, LONGEST_S) if stated_s is None else (0.98 * stated_s, 1.02 * stated_s)
    gaps = gaps[(gaps >= low) & (gaps <= high)]
    if stated_s is not None:
        return [stated_s]
    ranked = []
    while gaps.size:
        near = np.abs(gaps[:, None] - gaps[None, :]) < 0.004
        row = int(np.argmax(near.sum(axis=1)))
        if near[row].sum() < 3:
            break
        ranked.append(float(np.mean(gaps[near[row]])))
        gaps = gaps[~near[row]]
        if len(ranked) == 12:
            break
    return ranked


def _fitted(times: FloatArray, first: float, interval: float, least_filled: float) -> Grid | None:
    """Follow the grid from ``first``, correcting first and interval by least squares as it grows."""
    index, chosen = [0], [first]
    origin, step = first, interval
    last_place = math.floor((times[-1] - first) / interval + 0.5)
    misses = 0
    for place in range(1, last_place + 1):
        expected = origin + place * step
        near = int(np.argmin(np.abs(times - expected)))
        if abs(times[near] - expected) <= GRID_TOLERANCE_S:
            index.append(place)
            chosen.append(float(times[near]))
            misses = 0
            if len(index) >= 3:
                step, origin = np.polyfit(index, chosen, 1)
        else:
            misses += 1
            if misses > MOST_MISSED:
                break
    if len(index) < LEAST_BEATS or len(index) < least_filled * (index[-1] + 1):
        return None
    spread = float(np.std(np.asarray(chosen) - origin - step * np.asarray(index)))
    return Grid(float(origin), float(step), tuple(chosen), spread)


def repeating_tones(grid: Grid, tones: Sequence[int]) -> list[ToneBeat]:
    """Every place of a grid from its first to its last click, with its tone.

    ``tones`` are those of ``grid.times_s``. A place that was not heard takes the tone of those a whole number
    of cycles away; after how many beats the tones repeat is found. The times are those of the
    grid: a track keeps its beat to the sample, and the grid averages what noise does to single beats.
    """
    places = [round((time - grid.first_s) / grid.interval_s) for time in grid.times_s]
    heard = dict(zip(places, tones, strict=True))
    cycle = _cycle(heard)
    whole = []
    for place in range(places[0], places[-1] + 1):
        tone = heard.get(place)
        if tone is None:
            votes = [tone for other, tone in heard.items() if cycle and (other - place) % cycle == 0]
            tone = Counter(votes or tones).most_common(1)[0][0]
        time = grid.first_s + place * grid.interval_s
        whole.append(ToneBeat(time, tone, 1.0 if place in heard else 0.0))
    return whole


def _cycle(heard: dict[int, int]) -> int:
    """After how many beats the tones repeat; 0 where they do not. The shortest of equally good ones."""
    best, best_share = 0, 0.7
    for cycle in range(1, 41):
        pairs = [(tone, heard[place + cycle]) for place, tone in heard.items() if place + cycle in heard]
        if len(pairs) < 3:
            break
        share = sum(one == other for one, other in pairs) / len(pairs)
        if share > best_share + 0.02:
            best, best_share = cycle, share
    return best
