"""Ground and what stands behind it: textures of several octaves, printed lines, and the picture of them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numba import njit, prange

from pacewright.core.recording import FloatArray

FINE_CELL_M, FINE_CELLS = 0.0004, 2048
COARSE_CELL_M, COARSE_CELLS = 0.008, 512
LEVELS = 6

COLOURS: dict[str, tuple[float, float, float]] = {
    "grass": (0.075, 0.15, 0.035),
    "dry grass": (0.16, 0.18, 0.07),
    "carpet": (0.16, 0.15, 0.14),
    "blue carpet": (0.06, 0.08, 0.15),
    "mat": (0.035, 0.12, 0.055),
    "plain": (0.18, 0.18, 0.18),
}


@dataclass(frozen=True)
class Ground:
    """The ground: fine texture at several levels, coarse texture, lines, and a wall behind it.

    ``lines`` rows: a point (2), a direction (2), half width, linear grey. ``wall_y_m`` nan: no wall.
    """

    fine: tuple[FloatArray, ...]
    coarse: FloatArray
    lines: FloatArray
    wall_y_m: float = float("nan")
    wall: FloatArray | None = None


@lru_cache(maxsize=2)
def fine_texture(kind: str, seed: int) -> tuple[FloatArray, ...]:
    """Levels of a periodic texture of that kind, (n, n, 3) float32 in linear light, each half the
    one before."""
    rng = np.random.default_rng(seed)
    n = FINE_CELLS
    if kind == "plain":
        value = np.ones((n, n), np.float32)
    elif "grass" in kind:
        value = _blades(rng, n)
    else:
        value = _loops(rng, n, rough=0.16 if "carpet" in kind else 0.07)
    tint = _octaves(rng, n, (24.0, 80.0), (0.02, 0.02))
    colour = np.array(COLOURS[kind], dtype=np.float32)
    shade = np.stack([1.0 + 1.5 * tint, 1.0 + 0.0 * tint, 1.0 - tint], axis=-1).astype(np.float32)
    if kind == "plain":
        shade[:] = 1.0
    levels = [np.ascontiguousarray(value[..., None] * shade * colour)]
    while len(levels) < LEVELS:
        half = levels[-1].shape[0] // 2
        levels.append(cv2.resize(levels[-1], (half, half), interpolation=cv2.INTER_AREA))
    return tuple(levels)


def _blades(rng: np.random.Generator, n: int) -> FloatArray:
    """Short grass: many blades, mown one way, some light and some in the gaps dark."""
    canvas = np.full((n, n), 0.55, np.float32)
    lean = rng.uniform(0, 2 * np.pi)
    count = 26000
    for layer in range(3):
        start = rng.uniform(0, n, (count, 2))
        angle, length = lean + rng.normal(0, 0.9, count), rng.uniform(8, 26, count)
        end = start + length[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
        tone = (0.45 + 0.22 * layer) * rng.lognormal(0, 0.28, count)
        width = rng.integers(1, 4, count)
        # Blades over the edge come in again on the other side.
        for shift in ((0, 0), (-n, 0), (n, 0), (0, -n), (0, n)):
            ends = np.column_stack([start + shift, end + shift])
            low, high = np.minimum(ends[:, :2], ends[:, 2:]), np.maximum(ends[:, :2], ends[:, 2:])
            for k in np.flatnonzero((high >= 0).all(axis=1) & (low < n).all(axis=1)):
                x0, y0, x1, y1 = ends[k].round().astype(int).tolist()
                cv2.line(canvas, (x0, y0), (x1, y1), float(tone[k]), int(width[k]))
    canvas = cv2.GaussianBlur(canvas, (0, 0), 0.8, borderType=cv2.BORDER_REFLECT)
    return np.asarray(canvas / canvas.mean(), dtype=np.float32)


def _loops(rng: np.random.Generator, n: int, rough: float) -> FloatArray:
    """Pile or felt: grain of a few sizes."""
    return np.asarray(
        np.exp(_octaves(rng, n, (1.2, 3.0, 8.0, 40.0), (rough, rough, 0.6 * rough, 0.4 * rough))), np.float32
    )


def _octaves(
    rng: np.random.Generator, n: int, sizes: tuple[float, ...], amounts: tuple[float, ...]
) -> FloatArray:
    """Periodic noise: Gaussian grains of ``sizes`` cells, with SD ``amounts``."""
    f = np.fft.fftfreq(n)[:, None] ** 2 + np.fft.rfftfreq(n)[None, :] ** 2
    out = np.zeros((n, n))
    for size, amount in zip(sizes, amounts, strict=True):
        white = np.fft.rfft2(rng.normal(size=(n, n)))
        grains = np.fft.irfft2(white * np.exp(-2 * (np.pi * size) ** 2 * f), s=(n, n))
        out += amount * grains / max(grains.std(), 1e-12)
    return out


def make_ground(
    kind: str, rng: np.random.Generator, *, lines: FloatArray, wall_y_m: float = np.nan
) -> Ground:
    """Ground of that kind; the fine texture has one of four seeds, the rest is drawn."""
    fine = fine_texture(kind, int(rng.integers(4)))
    uneven = 0.0 if kind == "plain" else 1.0
    coarse = np.exp(_octaves(rng, COARSE_CELLS, (2.0, 8.0, 30.0), (0.03, 0.05, 0.06)) * uneven)
    wall = None
    if np.isfinite(wall_y_m):
        tone = (
            np.array([0.30, 0.28, 0.25])
            if "carpet" in kind or kind == "mat"
            else np.array([0.06, 0.11, 0.04])
        )
        rough = 0.05 if tone[0] > 0.2 else 0.35
        grain = np.exp(_octaves(rng, COARSE_CELLS, (1.0, 4.0, 14.0), (rough, rough, rough)))
        wall = (grain[..., None] * tone).astype(np.float32)
    return Ground(fine, coarse.astype(np.float32), lines.astype(np.float32), wall_y_m, wall)


@njit(inline="always", fastmath=True)
def _texel(texture, u, v, c):
    n = texture.shape[0]
    fu, fv = np.floor(u), np.floor(v)
    i, j = int(fu), int(fv)
    a, b = u - fu, v - fv
    i0, j0 = i % n, j % n
    i1, j1 = (i0 + 1) % n, (j0 + 1) % n
    top = texture[i0, j0, c] * (1 - b) + texture[i0, j1, c] * b
    return top * (1 - a) + (texture[i1, j0, c] * (1 - b) + texture[i1, j1, c] * b) * a


@njit(parallel=True, fastmath=True, cache=True)
def _render(  # noqa: C901
    corners,
    position,
    rotation,
    offsets,
    scale,
    fine0,
    fine1,
    fine2,
    fine3,
    fine4,
    fine5,
    coarse,
    lines,
    has_wall,
    wall_y,
    wall,
    focal,
    out,
):
    height, width = out.shape[0], out.shape[1]
    samples = offsets.shape[0]
    for row in prange(height):
        colour = np.zeros(3, np.float32)
        for col in range(width):
            colour[:] = 0.0
            for k in range(samples):
                # Place in cells of the corner grid; outputs may be denser than the pixels.
                px = min(max((col + 0.5) / scale + offsets[k, 0], 0.0), corners.shape[1] - 1.001)
                py = min(max((row + 0.5) / scale + offsets[k, 1], 0.0), corners.shape[0] - 1.001)
                i, j = int(py), int(px)
                a, b = py - i, px - j
                u = (corners[i, j, 0] * (1 - b) + corners[i, j + 1, 0] * b) * (1 - a) + (
                    corners[i + 1, j, 0] * (1 - b) + corners[i + 1, j + 1, 0] * b
                ) * a
                v = (corners[i, j, 1] * (1 - b) + corners[i, j + 1, 1] * b) * (1 - a) + (
                    corners[i + 1, j, 1] * (1 - b) + corners[i + 1, j + 1, 1] * b
                ) * a
                dx = rotation[0, 0] * u + rotation[1, 0] * v + rotation[2, 0]
                dy = rotation[0, 1] * u + rotation[1, 1] * v + rotation[2, 1]
                dz = rotation[0, 2] * u + rotation[1, 2] * v + rotation[2, 2]
                t_wall = (wall_y - position[1]) / dy if has_wall and dy != 0.0 else -1.0
                t = -position[2] / dz if dz < 0.0 else 1e9
                if t_wall > 0.0 and t_wall < t:
                    x, z = position[0] + t_wall * dx, position[2] + t_wall * dz
                    for c in range(3):
                        colour[c] += _texel(wall, x / 0.01, z / 0.01, c)
                    continue
                if t >= 1e9:
                    colour += 0.6
                    continue
                x, y = position[0] + t * dx, position[1] + t * dy
                cell = t / focal * np.sqrt(t * np.sqrt(dx * dx + dy * dy + dz * dz) / max(position[2], 0.05))
                level = int(max(0.0, np.log2(max(cell / 0.0004, 1.0))))
                gain = _texel(coarse, x / 0.008, y / 0.008, 0)
                grey = np.float32(-1.0)
                for m in range(lines.shape[0]):
                    off = (x - lines[m, 0]) * lines[m, 3] - (y - lines[m, 1]) * lines[m, 2]
                    if abs(off) < lines[m, 4]:
                        grey = lines[m, 5]
                for c in range(3):
                    if level <= 0:
                        value = _texel(fine0, x / 0.0004, y / 0.0004, c)
                    elif level == 1:
                        value = _texel(fine1, x / 0.0008, y / 0.0008, c)
                    elif level == 2:
                        value = _texel(fine2, x / 0.0016, y / 0.0016, c)
                    elif level == 3:
                        value = _texel(fine3, x / 0.0032, y / 0.0032, c)
                    elif level == 4:
                        value = _texel(fine4, x / 0.0064, y / 0.0064, c)
                    else:
                        value = _texel(fine5, x / 0.0128, y / 0.0128, c)
                    if grey >= 0.0:
                        value = 0.7 * grey + 0.3 * value
                    colour[c] += gain * value
            for c in range(3):
                out[row, col, c] = colour[c] / samples


def picture_of(ground: Ground, camera, offsets: FloatArray, density: int = 1) -> FloatArray:  # type: ignore[no-untyped-def]
    """The empty scene in linear light, (height·density, width·density, 3) float32, shadows left out.

    ``offsets`` (k, 2) sample the footprint of a pixel, whatever the density.
    """
    out = np.empty((camera.height * density, camera.width * density, 3), np.float32)
    wall = ground.wall if ground.wall is not None else np.zeros((1, 1, 3), np.float32)
    _render(
        camera.corner_directions(),
        camera.position_m.astype(np.float64),
        camera.rotation.astype(np.float64),
        offsets.astype(np.float32),
        float(density),
        *ground.fine,
        ground.coarse[..., None],
        ground.lines,
        ground.wall is not None,
        float(np.nan_to_num(ground.wall_y_m)),
        wall,
        float(camera.focal_px),
        out,
    )
    return out
