"""Where a ray meets things, and how much of a light a thing hides: compiled, metres."""

from __future__ import annotations

import numpy as np
from numba import njit

MAP_CELL_M, MAP_LOW_X_M, MAP_LOW_Y_M = 0.0005, -0.12, -0.08
FAR = 1e9
FAINTEST = 0.15
"""A shadow less deep than this is left out."""


@njit(inline="always", fastmath=True)
def smooth(edge):
    s = min(max(edge, 0.0), 1.0)
    return s * s * (3.0 - 2.0 * s)


@njit(inline="always", fastmath=True)
def distance(distances, part, x, y):
    u, v = (x - MAP_LOW_X_M) / MAP_CELL_M, (y - MAP_LOW_Y_M) / MAP_CELL_M
    n = distances.shape[1] - 1.001
    over = max(max(-u, u - n), max(-v, v - n))
    u, v = min(max(u, 0.0), n), min(max(v, 0.0), n)
    i, j = int(u), int(v)
    a, b = u - i, v - j
    inside = (distances[part, i, j] * (1 - b) + distances[part, i, j + 1] * b) * (1 - a) + (
        distances[part, i + 1, j] * (1 - b) + distances[part, i + 1, j + 1] * b
    ) * a
    return inside + max(over, 0.0) * MAP_CELL_M


@njit(fastmath=True)
def hit_part(distances, part, low, high, ox, oy, oz, dx, dy, dz, t_far):
    """First meeting with an upright prism in its own frame: t (inf for none) and whether it is the top."""
    t0, t1 = 0.0, t_far
    if dz != 0.0:
        ta, tb = (low - oz) / dz, (high - oz) / dz
        if ta > tb:
            ta, tb = tb, ta
        t0, t1 = max(t0, ta), min(t1, tb)
    elif oz < low or oz > high:
        return FAR, False
    # The disc around the middle of the map bounds every head.
    cx, cy = ox + 0.04, oy
    a, b, c = dx * dx + dy * dy, cx * dx + cy * dy, cx * cx + cy * cy - 0.01
    if a > 1e-12:
        root = b * b - a * c
        if root <= 0.0:
            return FAR, False
        root = np.sqrt(root)
        t0, t1 = max(t0, (-b - root) / a), min(t1, (-b + root) / a)
    if t0 >= t1:
        return FAR, False
    gap = distance(distances, part, ox + t0 * dx, oy + t0 * dy)
    if gap <= 0.0:
        return t0, abs(oz + t0 * dz - high) < 1e-6
    level = np.sqrt(a)
    if level < 1e-9:
        return FAR, False
    t = t0
    for _ in range(40):
        t += max(gap, 2e-5) / level
        if t >= t1:
            return FAR, False
        gap = distance(distances, part, ox + t * dx, oy + t * dy)
        if gap <= 2e-5:
            return t, False
    return FAR, False


@njit(fastmath=True)
def hit_capsule(cap, ox, oy, oz, dx, dy, dz):
    """First meeting with a capsule: t (inf for none) and the place 0..1 along its axis."""
    bx, by, bz = cap[3] - cap[0], cap[4] - cap[1], cap[5] - cap[2]
    ax, ay, az = ox - cap[0], oy - cap[1], oz - cap[2]
    r = cap[6]
    bb, bd, ba = bx * bx + by * by + bz * bz, bx * dx + by * dy + bz * dz, bx * ax + by * ay + bz * az
    da, aa, dd = dx * ax + dy * ay + dz * az, ax * ax + ay * ay + az * az, dx * dx + dy * dy + dz * dz
    a, b, c = bb * dd - bd * bd, bb * da - ba * bd, bb * aa - ba * ba - r * r * bb
    if a > 1e-12:
        h = b * b - a * c
        if h < 0.0:
            return FAR, 0.0
        t = (-b - np.sqrt(h)) / a
        along = ba + t * bd
        if 0.0 < along < bb:
            return (t, along / bb) if t > 0.0 else (FAR, 0.0)
        end = 0.0 if along <= 0.0 else 1.0
    else:
        end = 0.0
    ex, ey, ez = ax - end * bx, ay - end * by, az - end * bz
    b2, c2 = dx * ex + dy * ey + dz * ez, ex * ex + ey * ey + ez * ez - r * r
    h = b2 * b2 - dd * c2
    if h < 0.0:
        return FAR, 0.0
    t = (-b2 - np.sqrt(h)) / dd
    return (t, end) if t > 0.0 else (FAR, 0.0)


@njit(inline="always", fastmath=True)
def hit_sphere(cx, cy, cz, r, ox, oy, oz, dx, dy, dz):
    ax, ay, az = ox - cx, oy - cy, oz - cz
    dd, b, c = dx * dx + dy * dy + dz * dz, dx * ax + dy * ay + dz * az, ax * ax + ay * ay + az * az - r * r
    h = b * b - dd * c
    return (-b - np.sqrt(h)) / dd if h >= 0.0 else FAR


@njit(fastmath=True)
def shadow_of_axis(ax, ay, az, bx, by, bz, r, gx, gy, light):
    """How much of the light's disc a capsule hides from a place on the ground, 0..1."""
    # Closest approach of the ray g + s·L to the segment a + u·(b − a).
    ux, uy, uz = bx - ax, by - ay, bz - az
    wx, wy, wz = ax - gx, ay - gy, az
    uu, ul, wu = (
        ux * ux + uy * uy + uz * uz,
        ux * light[0] + uy * light[1] + uz * light[2],
        wx * ux + wy * uy + wz * uz,
    )
    wl = wx * light[0] + wy * light[1] + wz * light[2]
    across = uu - ul * ul
    u = min(max((ul * wl - wu) / across, 0.0), 1.0) if across > 1e-9 else 0.5
    s = wl + u * ul
    if s <= 0.0:
        return 0.0
    ex, ey, ez = wx + u * ux - s * light[0], wy + u * uy - s * light[1], wz + u * uz - s * light[2]
    gap = np.sqrt(ex * ex + ey * ey + ez * ez)
    soft = max(s * light[4], 1e-4)
    # A thin thing far from the ground hides little of a wide light, and soon nothing worth drawing.
    deepest = min(1.0, max(0.0, (r / soft - FAINTEST) / (1.0 - FAINTEST)))
    return deepest * smooth(0.5 + (r - gap) / (2.0 * max(soft, 1e-4)))
