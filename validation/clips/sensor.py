"""From light to numbers: vignetting, flicker, gamma, noise, and luma with halved colour planes.

The transfer curve is a pure power (1/2.2), so that every factor on the light is a factor on the signal.
"""

from __future__ import annotations

import numpy as np
from numba import njit, prange

from pacewright.core.recording import FloatArray
from validation.clips.scene import Light, Noise

GAMMA = 2.2


def falloff(light: Light, width: int, height: int) -> FloatArray:
    """Factor on the signal (after gamma), (height, width) float32: exposure, vignetting and uneven light."""
    x = (np.arange(width) - (width - 1) / 2) / (width / 2)
    y = (np.arange(height) - (height - 1) / 2) / (width / 2)
    r2 = x[None, :] ** 2 + y[:, None] ** 2
    slope = 1.0 + light.gradient[0] * x[None, :] + light.gradient[1] * y[:, None]
    factor = light.exposure * (1.0 - light.vignetting * r2 / 1.3) * slope
    return np.asarray(factor ** (1 / GAMMA), dtype=np.float32)


def row_gain(light: Light, times_s: FloatArray, exposure_s: float) -> FloatArray:
    """Factor on the signal of each row whose exposure is centred at ``times_s`` (n,): lamps that flicker."""
    if not light.flicker_depth:
        return np.ones(times_s.size, np.float32)
    turn = np.pi * light.flicker_hz * exposure_s
    wave = np.sinc(turn / np.pi) * np.cos(2 * np.pi * light.flicker_hz * times_s)
    return np.asarray((1.0 + light.flicker_depth * wave) ** (1 / GAMMA), dtype=np.float32)


def noise_curve(noise: Noise) -> FloatArray:
    """SD of the signal (0..1 after gamma) at 257 levels: shot and read noise through the transfer curve.

    Beyond its ends the slope of the curve is held, as a phone's curve has no infinite slope at black.
    """
    signal = np.maximum(np.linspace(0, 1, 257), 0.06)
    linear = signal**GAMMA
    grey = 0.5**GAMMA
    variance = (1 - noise.read_share) * linear / grey + noise.read_share
    slope = signal ** (1 - GAMMA) / 0.5 ** (1 - GAMMA)
    return np.asarray(noise.mid_grey_levels / 219.0 * np.sqrt(variance) * slope, dtype=np.float32)


def noise_field(width: int, height: int, rng: np.random.Generator) -> FloatArray:
    """Unit noise larger than a picture, slightly correlated from pixel to pixel as demosaicing leaves it."""
    import cv2

    white = rng.standard_normal((height + 257, width + 257), dtype=np.float32)
    soft = cv2.GaussianBlur(white, (3, 3), 0.45)
    return np.asarray(soft / soft.std(), dtype=np.float32)


TO_SIGNAL = (np.linspace(0, 1.5, 4097) ** (2 / GAMMA)).astype(np.float32)
"""Signal by the square root of the light, up to a root of 1.5."""
TO_LIGHT = (np.linspace(0, 1.5, 4097) ** GAMMA).astype(np.float32)
"""Light by the signal, up to 1.5."""


@njit(inline="always", fastmath=True)
def _look_up(table, at):
    place = min(at * np.float32(4096 / 1.5), np.float32(4095.9))
    k = int(place)
    return table[k] + (place - k) * (table[k + 1] - table[k])


@njit(parallel=True, fastmath=True, cache=True)
def develop(
    signal,
    luma,
    blue,
    red,
    used,
    size,
    lit,
    ground,
    shade,
    fall,
    gain,
    curve,
    field,
    start,
    chroma_share,
    white,
    black,
    top,
    to_signal,
    to_light,
    out,
    out_blue,
    out_red,
):
    """One picture: ``signal`` (h, w, 3) is the empty scene after gamma, ``luma``, ``blue`` and
    ``red`` its planes.

    ``used`` marks tiles with things in them; ``start`` (6,) places the noise of the three planes.
    """
    height, width = luma.shape
    for pair in prange(height // 2):
        r3, g3, b3 = 0.0, 0.0, 0.0
        for row in (2 * pair, 2 * pair + 1):
            g = gain[row]
            for col in range(width):
                y = luma[row, col] * shade[row, col] * fall[row, col] * g
                level = min(max(y, 0.0), 1.0) * 256.0
                y += curve[int(level)] * field[row + start[0], col + start[1]]
                out[row, col] = min(max(black + white * y + 0.5, 1.0), top)
        for half in range(width // 2):
            row, col = 2 * pair, 2 * half
            if used[row // size, col // size]:
                cb, cr, mean = 0.0, 0.0, 0.0
                for i in range(2):
                    for j in range(2):
                        s = shade[row + i, col + j]
                        left = ground[row + i, col + j]
                        factor = fall[row + i, col + j] * gain[row + i]
                        r3 = _look_up(
                            to_signal,
                            np.sqrt(
                                lit[row + i, col + j, 0]
                                + left * _look_up(to_light, s * signal[row + i, col + j, 0])
                            ),
                        )
                        g3 = _look_up(
                            to_signal,
                            np.sqrt(
                                lit[row + i, col + j, 1]
                                + left * _look_up(to_light, s * signal[row + i, col + j, 1])
                            ),
                        )
                        b3 = _look_up(
                            to_signal,
                            np.sqrt(
                                lit[row + i, col + j, 2]
                                + left * _look_up(to_light, s * signal[row + i, col + j, 2])
                            ),
                        )
                        r3, g3, b3 = min(r3 * factor, 1.0), min(g3 * factor, 1.0), min(b3 * factor, 1.0)
                        y = 0.2126 * r3 + 0.7152 * g3 + 0.0722 * b3
                        cb += (b3 - y) / 1.8556
                        cr += (r3 - y) / 1.5748
                        mean += y
                        y += curve[int(y * 256.0)] * field[row + i + start[0], col + j + start[1]]
                        out[row + i, col + j] = min(max(black + white * y + 0.5, 1.0), top)
                cb, cr, mean = 0.25 * cb, 0.25 * cr, 0.25 * mean
            else:
                factor = shade[row, col] * fall[row, col] * gain[row]
                cb, cr, mean = blue[pair, half] * factor, red[pair, half] * factor, luma[row, col] * factor
            sd = chroma_share * curve[int(min(max(mean, 0.0), 1.0) * 256.0)]
            cb += sd * field[pair + start[2], half + start[3]]
            cr += sd * field[pair + start[4], half + start[5]]
            scale, middle = white * 224.0 / 219.0, (top + 2.0) / 2.0
            out_blue[pair, half] = min(max(middle + scale * cb + 0.5, 1.0), top)
            out_red[pair, half] = min(max(middle + scale * cr + 0.5, 1.0), top)


def planes(signal: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Luma and the two halved colour planes of a signal (h, w, 3), BT.709."""
    luma = signal @ np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)
    quarter = signal.reshape(signal.shape[0] // 2, 2, signal.shape[1] // 2, 2, 3).mean(axis=(1, 3))
    grey = quarter @ np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)
    return luma, (quarter[..., 2] - grey) / np.float32(1.8556), (quarter[..., 0] - grey) / np.float32(1.5748)
