"""Invented sounds with known truth for `validation.listening`: contacts, wind, talk, and other noises.

No published spectrum of a putter meeting a ball was at hand: modes, decay times and levels below are
invented, over ranges wide enough that no one kind of putter is favoured.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Sound = NDArray[np.float64]
CONTACTS = ("modes", "noise burst", "half sine", "one mode")


def contact(kind: str, rate_hz: int, rng: np.random.Generator) -> Sound:
    """A contact of unit RMS over its loudest 5 ms; its first sample is the contact."""
    t = np.arange(int(0.04 * rate_hz)) / rate_hz
    if kind == "modes":
        sound = np.zeros_like(t)
        for frequency in rng.uniform(1500.0, 9000.0, rng.integers(3, 7)):
            decay = rng.uniform(0.0008, 0.006)
            sound += rng.uniform(0.3, 1.0) * np.exp(-t / decay) * np.sin(2 * np.pi * frequency * t)
    elif kind == "noise burst":
        sound = rng.standard_normal(t.size) * np.exp(-t / rng.uniform(0.001, 0.004))
    elif kind == "half sine":
        # The ball is on the face for about half a millisecond; a soft insert rings a little after it.
        width = rng.uniform(0.0003, 0.0006)
        push = np.where(t < width, np.sin(np.pi * np.minimum(t / width, 1.0)), 0.0)
        ring = np.exp(-t / 0.003) * np.sin(2 * np.pi * rng.uniform(2000.0, 4500.0) * t)
        sound = np.gradient(push) / np.max(np.abs(np.gradient(push))) + 0.5 * ring
    else:
        sound = np.exp(-t / rng.uniform(0.0015, 0.004)) * np.sin(2 * np.pi * rng.uniform(1800.0, 6000.0) * t)
    width = int(0.005 * rate_hz)
    return sound / np.sqrt(np.mean(sound[:width] ** 2))


def coloured(count: int, rate_hz: int, rng: np.random.Generator, exponent: float) -> Sound:
    """Noise whose power falls as frequency to the ``exponent``, unit RMS."""
    spectrum = np.fft.rfft(rng.standard_normal(count))
    frequency = np.maximum(np.fft.rfftfreq(count, 1.0 / rate_hz), 20.0)
    noise = np.fft.irfft(spectrum * frequency ** (-exponent / 2.0), count)
    return noise / np.std(noise)


def wind(count: int, rate_hz: int, rng: np.random.Generator) -> Sound:
    """Gusts: low noise that swells within seconds, on a little hiss."""
    knots = max(count // (rate_hz // 2), 4)
    swell = np.exp(np.interp(np.linspace(0, knots - 1, count), np.arange(knots), rng.normal(0.0, 0.8, knots)))
    noise = coloured(count, rate_hz, rng, 2.0) * swell
    noise += 0.02 * rng.standard_normal(count)
    return noise / np.std(noise)


def talk(count: int, rate_hz: int, rng: np.random.Generator, voices: int = 1) -> Sound:
    """Speech-like: voiced syllables with gliding formants, hissing fricatives, plosives, pauses."""
    total = np.zeros(count)
    for _ in range(voices):
        at = 0
        while at < count:
            kind = rng.choice(["vowel", "hiss", "plosive", "pause"], p=[0.55, 0.15, 0.12, 0.18])
            piece = _phone(str(kind), rate_hz, rng)
            stop = min(at + piece.size, count)
            total[at:stop] += piece[: stop - at]
            at = stop
    return total / np.std(total)


def _phone(kind: str, rate_hz: int, rng: np.random.Generator) -> Sound:
    from scipy.signal import butter, lfilter, sosfilt

    if kind == "pause":
        return np.zeros(int(rng.uniform(0.05, 0.5) * rate_hz))
    if kind == "plosive":
        # A closure, a burst, and breath.
        count = int(rng.uniform(0.06, 0.11) * rate_hz)
        t = np.arange(count) / rate_hz - 0.03
        shape = np.where(t > 0, np.exp(-t / 0.004) + 0.3 * np.exp(-t / 0.025), 0.0)
        low = rng.uniform(800.0, 3000.0)
        band = butter(2, [low, min(low * 2.5, 0.45 * rate_hz)], "bandpass", fs=rate_hz, output="sos")
        return 0.5 * shape * sosfilt(band, rng.standard_normal(count))
    count = int(rng.uniform(0.08, 0.25) * rate_hz)
    shape = np.sin(np.pi * np.arange(count) / count) ** 0.6
    if kind == "hiss":
        band = butter(2, [3500.0, min(9000.0, 0.45 * rate_hz)], "bandpass", fs=rate_hz, output="sos")
        return 0.25 * shape * sosfilt(band, rng.standard_normal(count))
    pitch = rng.uniform(90.0, 240.0) * np.exp(np.cumsum(rng.normal(0, 0.0006, count)))
    phase = np.cumsum(pitch) / rate_hz
    source = np.diff(np.floor(phase), prepend=0.0) - pitch / rate_hz
    source += 0.01 * rng.standard_normal(count)
    voice = lfilter([1.0], [1.0, -0.97], source)
    for formant, width in (
        (rng.uniform(300, 800), 80),
        (rng.uniform(900, 2200), 110),
        (rng.uniform(2300, 3200), 170),
    ):
        radius, angle = np.exp(-np.pi * width / rate_hz), 2 * np.pi * formant / rate_hz
        voice = lfilter([1.0 - radius], [1.0, -2 * radius * np.cos(angle), radius**2], voice)
    voice = np.diff(voice, prepend=0.0)
    return shape * voice / max(np.std(voice), 1e-12)


def footstep(rate_hz: int, rng: np.random.Generator) -> Sound:
    """A thud and the scuff of a sole, unit peak."""
    count = int(0.16 * rate_hz)
    t = np.arange(count) / rate_hz
    thud = np.exp(-t / 0.02) * np.sin(2 * np.pi * rng.uniform(60.0, 140.0) * t)
    scuff = rng.standard_normal(count) * (t / 0.02) * np.exp(-t / 0.025) * 0.08
    sound = thud + scuff
    return sound / np.max(np.abs(sound))


def dropped_club(rate_hz: int, rng: np.random.Generator) -> Sound:
    """A shaft that lands: long ringing modes, and two or three bounces; unit peak."""
    count = int(0.9 * rate_hz)
    sound = np.zeros(count)
    at, level = 0.0, 1.0
    modes = rng.uniform(800.0, 7000.0, 6)
    for _ in range(int(rng.integers(2, 4))):
        start = int(at * rate_hz)
        t = np.arange(count - start) / rate_hz
        for mode in modes:
            sound[start:] += level * np.exp(-t / rng.uniform(0.12, 0.3)) * np.sin(2 * np.pi * mode * t)
        at, level = at + rng.uniform(0.08, 0.25), level * rng.uniform(0.3, 0.6)
    return sound / np.max(np.abs(sound))
