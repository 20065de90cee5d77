"""The sound track: noise of a room, a hum, footsteps, and the click of contact as it reaches the phone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pacewright.core.recording import FloatArray

SPEED_OF_SOUND_M_S = 343.0


@dataclass(frozen=True)
class Sound:
    """What is heard. ``offset_s`` is how much later than the picture's clock the sound track runs.

    ``other_click_s`` are knocks that are no contact (a door, another player), before the phone's distance.
    """

    rate_hz: int = 48000
    offset_s: float = 0.0
    noise: float = 0.004
    click: float = 0.35
    other_click_s: tuple[float, ...] = ()


def track(
    sound: Sound, contact_s: float, distance_m: float, length_s: float, rng: np.random.Generator
) -> FloatArray:
    """Samples (n,) in −1..1; the click comes at contact + distance / speed of sound + offset."""
    n = int((length_s + 0.2) * sound.rate_hz)
    pink = np.fft.irfft(
        np.fft.rfft(rng.normal(size=n)) / np.sqrt(np.maximum(np.fft.rfftfreq(n, 1 / sound.rate_hz), 40.0)), n
    )
    out = sound.noise * pink / pink.std()
    out += 0.3 * sound.noise * np.sin(2 * np.pi * 50 * np.arange(n) / sound.rate_hz)
    arrivals = [(at, sound.click) for at in (contact_s,) if np.isfinite(at)]
    arrivals += [(at, 0.8 * sound.click) for at in sound.other_click_s]
    for at, size in arrivals:
        _add_click(
            out, (at + distance_m / SPEED_OF_SOUND_M_S + sound.offset_s) * sound.rate_hz, size, sound, rng
        )
    return np.clip(out, -0.99, 0.99)


def _add_click(out: FloatArray, at: float, size: float, sound: Sound, rng: np.random.Generator) -> None:
    """A knock: a few dying resonances that begin at a fraction of a sample, and echoes from ground
    and wall."""
    for delay_s, share in ((0.0, 1.0), (0.0021, 0.25), (0.011, 0.12)):
        start = at + delay_s * sound.rate_hz
        first = int(np.ceil(start))
        tau = (np.arange(first, min(first + 4000, out.size)) - start) / sound.rate_hz
        if tau.size == 0 or first < 0:
            continue
        for frequency, decay, part in ((2900.0, 0.0022, 0.6), (4700.0, 0.0012, 0.4), (1300.0, 0.004, 0.3)):
            pitch = frequency * rng.uniform(0.93, 1.07)
            out[first : first + tau.size] += (
                size * share * part * np.exp(-tau / decay) * np.sin(2 * np.pi * pitch * tau)
            )
