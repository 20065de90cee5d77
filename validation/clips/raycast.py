"""Rays from the camera to the moving things: what each pixel sees of them while the shutter is open.

Every sample of a pixel has its own place within the pixel and its own instant within the exposure,
so that blur, coverage and what hides what are right together. Compiled; all lengths in metres of the world.
"""

# ruff: noqa: C901, ARG001
# One ray is one long function: compiled code passes its arrays slowly from one function to the next.
from __future__ import annotations

import numpy as np
from numba import njit, prange

from validation.clips.hits import (
    FAR,
    MAP_CELL_M,
    MAP_LOW_X_M,
    MAP_LOW_Y_M,
    distance,
    hit_capsule,
    hit_part,
    hit_sphere,
    shadow_of_axis,
    smooth,
)

HEAD_NEAR_M, HEAD_SHADOW_M = 0.012, 0.02
"""How far round the head its body dims the light from all round, and how far its shadow's edge may reach."""
FIRST_SAMPLES, EVEN = 6, 0.06
"""A pixel whose first samples see one thing, alike within this share, gets no more."""


@njit(fastmath=True)
def _mark(kind, nx, ny, nz):
    """Darkness 0..1 of what is printed on the ball where its own normal is (nx, ny, nz)."""
    if kind == 1:  # a line drawn around a third of the ball
        return 1.0 if abs(ny) < 0.045 and nz > 0.2 else 0.0
    if kind == 2:  # a logo of three bars on top and a number on a side
        if nz > 0.72 and abs(nx) < 0.42:
            return 1.0 if abs(abs(ny - 0.05) - 0.16) < 0.05 or abs(ny - 0.05) < 0.04 else 0.0
        return 1.0 if nx > 0.8 and abs(ny) < 0.12 and abs(nz) < 0.2 and abs(ny * nz) < 0.006 else 0.0
    if kind == 3:  # two thick dots, one a good way from the pole
        return (
            1.0
            if (nx - 0.45) ** 2 + (ny + 0.2) ** 2 < 0.03 or (nx + 0.3) ** 2 + (ny - 0.5) ** 2 < 0.02
            else 0.0
        )
    return 0.0


@njit(inline="always", fastmath=True)
def _light(nx, ny, nz, vx, vy, vz, light, gloss):
    """Diffuse light on, and gloss from, a surface with that normal seen from direction v (towards
    the eye)."""
    facing = max(0.0, nx * light[0] + ny * light[1] + nz * light[2])
    diffuse = light[5] * (0.55 + 0.45 * nz) + light[3] * facing / light[2]
    hx, hy, hz = light[0] + vx, light[1] + vy, light[2] + vz
    size = np.sqrt(hx * hx + hy * hy + hz * hz)
    half = max(0.0, (nx * hx + ny * hy + nz * hz) / size)
    up = 2.0 * (nx * vx + ny * vy + nz * vz) * nz - vz
    sky = 0.15 + 0.85 * smooth(0.5 + 0.6 * up)
    shine = gloss * (light[3] * 1.6 * half**60 * (facing > 0.0) + 0.35 * light[5] * sky)
    return diffuse, shine


@njit(inline="always", fastmath=True)
def _ground_light(
    gx, gy, mask, b, k, heads, distances, heights, balls, ball_r, caps, shaft_caps, light, side
):
    """Share 0..1 of the light on a place of the ground that the head, the balls and the shaft leave."""
    hidden, open_sky = 0.0, 1.0
    if mask & 2:
        for part in range(distances.shape[0]):
            top = heights[part, 1]
            px, py = gx - heads[b, k, 0], gy - heads[b, k, 1]
            lx = heads[b, k, 3] * px + heads[b, k, 6] * py
            gap = distance(distances, part, lx, side * (heads[b, k, 4] * px + heads[b, k, 7] * py))
            near = min((max(gap, 0.0) + max(heads[b, k, 2], 0.0)) / HEAD_NEAR_M, 1.0)
            open_sky = min(open_sky, 1.0 - 0.6 * (1.0 - near) ** 2)
            if gap > HEAD_SHADOW_M + top / light[2]:
                continue
            for level in range(3):
                h = top * (0.2 + 0.4 * level)
                qx, qy = px + light[0] * h / light[2], py + light[1] * h / light[2]
                lx = heads[b, k, 3] * qx + heads[b, k, 6] * qy
                ly = heads[b, k, 4] * qx + heads[b, k, 7] * qy
                gap = distance(distances, part, lx, side * ly)
                soft = 0.0008 + h / light[2] * light[4]
                hidden = max(hidden, smooth(0.5 - gap / (2.0 * soft)))
    for n in range(balls.shape[2]):
        if mask & (8 << (2 * n)):
            cx, cy, cz = balls[b, k, n, 0] - gx, balls[b, k, n, 1] - gy, balls[b, k, n, 2]
            s = cx * light[0] + cy * light[1] + cz * light[2]
            d2 = cx * cx + cy * cy + cz * cz
            gap = np.sqrt(max(d2 - s * s, 0.0)) - ball_r
            hidden = max(hidden, smooth(0.5 - gap / (2.0 * max(s * light[4], 1e-4))))
            open_sky *= 1.0 - min(0.9, max(0.0, cz * ball_r * ball_r / (d2 * np.sqrt(d2)) - 0.12))
    for n in range(shaft_caps):
        if mask & (1 << 6):
            hidden = max(
                hidden,
                shadow_of_axis(
                    caps[b, k, n, 0],
                    caps[b, k, n, 1],
                    caps[b, k, n, 2],
                    caps[b, k, n, 3],
                    caps[b, k, n, 4],
                    caps[b, k, n, 5],
                    caps[b, k, n, 6],
                    gx,
                    gy,
                    light,
                ),
            )
    return light[5] * open_sky + light[3] * (1.0 - hidden)


@njit(inline="always", fastmath=True)
def _sample(
    mask,
    b,
    k,
    ox,
    oy,
    oz,
    dx,
    dy,
    dz,
    heads,
    distances,
    heights,
    head_colour,
    head_gloss,
    balls,
    ball_r,
    ball_looks,
    caps,
    cap_coats,
    ells,
    ell_coats,
    shaft_caps,
    light,
    side,
    seen,
):
    """Colour of the nearest thing on a ray into ``seen`` and its place; False when only the ground
    is seen."""
    t_best, kind, which, extra = FAR, 0, 0, 0.0
    if dz < 0.0:
        t_best = -oz / dz
    if mask & 1:
        px, py, pz = ox - heads[b, k, 0], oy - heads[b, k, 1], oz - heads[b, k, 2]
        lx, ly, lz = (
            heads[b, k, 3] * px + heads[b, k, 6] * py + heads[b, k, 9] * pz,
            heads[b, k, 4] * px + heads[b, k, 7] * py + heads[b, k, 10] * pz,
            heads[b, k, 5] * px + heads[b, k, 8] * py + heads[b, k, 11] * pz,
        )
        mx, my, mz = (
            heads[b, k, 3] * dx + heads[b, k, 6] * dy + heads[b, k, 9] * dz,
            heads[b, k, 4] * dx + heads[b, k, 7] * dy + heads[b, k, 10] * dz,
            heads[b, k, 5] * dx + heads[b, k, 8] * dy + heads[b, k, 11] * dz,
        )
        for part in range(distances.shape[0]):
            t, top = hit_part(
                distances,
                part,
                heights[part, 0],
                heights[part, 1],
                lx,
                side * ly,
                lz,
                mx,
                side * my,
                mz,
                t_best,
            )
            if t < t_best:
                t_best, kind, which, extra = t, 1, part, 1.0 if top else 0.0
    for n in range(balls.shape[2]):
        if mask & (4 << (2 * n)):
            t = hit_sphere(
                balls[b, k, n, 0], balls[b, k, n, 1], balls[b, k, n, 2], ball_r, ox, oy, oz, dx, dy, dz
            )
            if 0.0 < t < t_best:
                t_best, kind, which = t, 2, n
    bodies = mask >> 8
    for n in range(caps.shape[2] if bodies else 0):
        if bodies & (1 << n):
            t, along = hit_capsule(caps[b, k, n], ox, oy, oz, dx, dy, dz)
            if t < t_best:
                t_best, kind, which, extra = t, 3, n, along
    bodies >>= caps.shape[2]
    for n in range(ells.shape[2] if bodies else 0):
        if bodies & (1 << n):
            e = ells[b, k, n]
            px, py, pz = ox - e[0], oy - e[1], oz - e[2]
            t = hit_sphere(
                0.0,
                0.0,
                0.0,
                1.0,
                (e[3] * px + e[6] * py + e[9] * pz) / e[12],
                (e[4] * px + e[7] * py + e[10] * pz) / e[13],
                (e[5] * px + e[8] * py + e[11] * pz) / e[14],
                (e[3] * dx + e[6] * dy + e[9] * dz) / e[12],
                (e[4] * dx + e[7] * dy + e[10] * dz) / e[13],
                (e[5] * dx + e[8] * dy + e[11] * dz) / e[14],
            )
            if 0.0 < t < t_best:
                t_best, kind, which = t, 4, n
    seen[3] = t_best
    if kind == 0:
        return False
    size = 1.0 / np.sqrt(dx * dx + dy * dy + dz * dz)
    vx, vy, vz = -dx * size, -dy * size, -dz * size
    x, y, z = ox + t_best * dx, oy + t_best * dy, oz + t_best * dz
    if kind == 1:
        _coat_head(
            which,
            extra,
            x,
            y,
            z,
            b,
            k,
            heads,
            distances,
            head_colour,
            head_gloss,
            vx,
            vy,
            vz,
            light,
            side,
            seen,
        )
        return True
    gloss = 0.0
    if kind == 2:
        nx, ny, nz = (
            (x - balls[b, k, which, 0]) / ball_r,
            (y - balls[b, k, which, 1]) / ball_r,
            (z - balls[b, k, which, 2]) / ball_r,
        )
        m = balls[b, k, which]
        lx, ly, lz = (
            m[3] * nx + m[6] * ny + m[9] * nz,
            m[4] * nx + m[7] * ny + m[10] * nz,
            m[5] * nx + m[8] * ny + m[11] * nz,
        )
        dark = 1.0 - 0.9 * _mark(int(ball_looks[which, 3]), lx, ly, lz)
        dimple = 1.0 + 0.03 * np.sin(34.0 * lx) * np.sin(34.0 * ly + 17.0 * lz)
        red, green, blue, gloss = (
            ball_looks[which, 0] * dark * dimple,
            ball_looks[which, 1] * dark * dimple,
            ball_looks[which, 2] * dark * dimple,
            0.25,
        )
    elif kind == 3:
        c = caps[b, k, which]
        nx, ny, nz = (
            (x - c[0] - extra * (c[3] - c[0])) / c[6],
            (y - c[1] - extra * (c[4] - c[1])) / c[6],
            (z - c[2] - extra * (c[5] - c[2])) / c[6],
        )
        red, green, blue, gloss = (
            cap_coats[which, 0],
            cap_coats[which, 1],
            cap_coats[which, 2],
            cap_coats[which, 3],
        )
    else:
        e = ells[b, k, which]
        px, py, pz = x - e[0], y - e[1], z - e[2]
        a0, a1, a2 = (
            (e[3] * px + e[6] * py + e[9] * pz) / e[12] ** 2,
            (e[4] * px + e[7] * py + e[10] * pz) / e[13] ** 2,
            (e[5] * px + e[8] * py + e[11] * pz) / e[14] ** 2,
        )
        nx, ny, nz = (
            e[3] * a0 + e[4] * a1 + e[5] * a2,
            e[6] * a0 + e[7] * a1 + e[8] * a2,
            e[9] * a0 + e[10] * a1 + e[11] * a2,
        )
        norm = 1.0 / np.sqrt(nx * nx + ny * ny + nz * nz)
        nx, ny, nz = nx * norm, ny * norm, nz * norm
        red, green, blue, gloss = (
            ell_coats[which, 0],
            ell_coats[which, 1],
            ell_coats[which, 2],
            ell_coats[which, 3],
        )
    diffuse, shine = _light(nx, ny, nz, vx, vy, vz, light, gloss)
    if kind == 2:  # light from the ground on the lower half is little where the ball hides it
        diffuse *= 0.75 + 0.25 * min(1.0, max(0.0, nz + 0.7))
    seen[0], seen[1], seen[2] = red * diffuse + shine, green * diffuse + shine, blue * diffuse + shine
    return True


@njit(fastmath=True)
def _coat_head(part, is_top, x, y, z, b, k, heads, distances, colour, gloss, vx, vy, vz, light, side, seen):
    px, py, pz = x - heads[b, k, 0], y - heads[b, k, 1], z - heads[b, k, 2]
    lx = heads[b, k, 3] * px + heads[b, k, 6] * py + heads[b, k, 9] * pz
    ly = side * (heads[b, k, 4] * px + heads[b, k, 7] * py + heads[b, k, 10] * pz)
    here = distance(distances, part, lx, ly)
    gx = (distance(distances, part, lx + 5e-4, ly) - distance(distances, part, lx - 5e-4, ly)) / 1e-3
    gy = (distance(distances, part, lx, ly + 5e-4) - distance(distances, part, lx, ly - 5e-4)) / 1e-3
    if is_top > 0.5:  # edges are broken by a radius of 1.5 mm
        lean = max(0.0, 1.0 + here / 0.0015)
        n0, n1, n2 = gx * lean, gy * lean, 1.0
        i = min(max(int((lx - MAP_LOW_X_M) / MAP_CELL_M + 0.5), 0), colour.shape[0] - 1)
        j = min(max(int((ly - MAP_LOW_Y_M) / MAP_CELL_M + 0.5), 0), colour.shape[1] - 1)
    else:
        n0, n1, n2 = gx, gy, 0.0
        i, j = 0, 0
    n1 *= side
    norm = 1.0 / np.sqrt(n0 * n0 + n1 * n1 + n2 * n2 + 1e-12)
    n0, n1, n2 = n0 * norm, n1 * norm, n2 * norm
    nx = heads[b, k, 3] * n0 + heads[b, k, 4] * n1 + heads[b, k, 5] * n2
    ny = heads[b, k, 6] * n0 + heads[b, k, 7] * n1 + heads[b, k, 8] * n2
    nz = heads[b, k, 9] * n0 + heads[b, k, 10] * n1 + heads[b, k, 11] * n2
    diffuse, shine = _light(nx, ny, nz, vx, vy, vz, light, gloss)
    for c in range(3):
        seen[c] = colour[i, j, c] * diffuse + shine


@njit(inline="always", fastmath=True)
def _shade_at(shades, grid, x, y):
    """The player's soft shadow at a place on the ground: a factor on the light."""
    u = min(max((x - grid[0]) / grid[2], 0.0), shades.shape[0] - 1.001)
    v = min(max((y - grid[1]) / grid[2], 0.0), shades.shape[1] - 1.001)
    i, j = int(u), int(v)
    a, b = u - i, v - j
    return (shades[i, j] * (1 - b) + shades[i, j + 1] * b) * (1 - a) + (
        shades[i + 1, j] * (1 - b) + shades[i + 1, j + 1] * b
    ) * a


@njit(parallel=True, fastmath=True, cache=True)
def cast(
    tiles,
    masks,
    size,
    corners,
    row_band,
    offsets,
    cams,
    heads,
    distances,
    heights,
    head_colour,
    head_gloss,
    balls,
    ball_r,
    ball_looks,
    caps,
    cap_coats,
    ells,
    ell_coats,
    shaft_caps,
    light,
    side,
    shades,
    grid,
    lit,
    ground,
):
    """Fill ``lit`` (h, w, 3) and ``ground`` (h, w) in the tiles: light from things, and the ground's share.

    A pixel is lit + ground · (the empty scene): ``ground`` is the mean over the samples of what is
    left of the light on the ground where it is seen, the player's soft shadow apart.
    """
    height, width = ground.shape
    samples = offsets.shape[0]
    for n in prange(tiles.shape[0]):
        seen = np.zeros(4)
        mask = masks[n]
        for row in range(tiles[n, 0] * size, min((tiles[n, 0] + 1) * size, height)):
            b = row_band[row]
            for col in range(tiles[n, 1] * size, min((tiles[n, 1] + 1) * size, width)):
                red, green, blue, left = 0.0, 0.0, 0.0, 0.0
                count, things, darkest, brightest = 0, 0, FAR, 0.0
                for k in range(samples):
                    if (
                        k == FIRST_SAMPLES
                        and things % FIRST_SAMPLES == 0
                        and brightest - darkest < EVEN * brightest
                    ):
                        break
                    count += 1
                    px, py = col + 0.5 + offsets[k, 0], row + 0.5 + offsets[k, 1]
                    j, i = min(max(int(px), 0), width - 1), min(max(int(py), 0), height - 1)
                    fx, fy = px - j, py - i
                    u = (corners[i, j, 0] * (1 - fx) + corners[i, j + 1, 0] * fx) * (1 - fy) + (
                        corners[i + 1, j, 0] * (1 - fx) + corners[i + 1, j + 1, 0] * fx
                    ) * fy
                    v = (corners[i, j, 1] * (1 - fx) + corners[i, j + 1, 1] * fx) * (1 - fy) + (
                        corners[i + 1, j, 1] * (1 - fx) + corners[i + 1, j + 1, 1] * fx
                    ) * fy
                    cam = cams[b, k]
                    dx = cam[3] * u + cam[6] * v + cam[9]
                    dy = cam[4] * u + cam[7] * v + cam[10]
                    dz = cam[5] * u + cam[8] * v + cam[11]
                    if _sample(
                        mask,
                        b,
                        k,
                        cam[0],
                        cam[1],
                        cam[2],
                        dx,
                        dy,
                        dz,
                        heads,
                        distances,
                        heights,
                        head_colour,
                        head_gloss,
                        balls,
                        ball_r,
                        ball_looks,
                        caps,
                        cap_coats,
                        ells,
                        ell_coats,
                        shaft_caps,
                        light,
                        side,
                        seen,
                    ):
                        t = seen[3]
                        z = cam[2] + t * dz
                        shade = _shade_at(
                            shades,
                            grid,
                            cam[0] + t * dx - light[0] * z / light[2],
                            cam[1] + t * dy - light[1] * z / light[2],
                        )
                        red, green, blue = (
                            red + seen[0] * shade,
                            green + seen[1] * shade,
                            blue + seen[2] * shade,
                        )
                        things, bright = things + 1, seen[0] + seen[1] + seen[2]
                    else:
                        bright = 1.0
                        if dz < 0.0:
                            t = -cam[2] / dz
                            bright = _ground_light(
                                cam[0] + t * dx,
                                cam[1] + t * dy,
                                mask,
                                b,
                                k,
                                heads,
                                distances,
                                heights,
                                balls,
                                ball_r,
                                caps,
                                shaft_caps,
                                light,
                                side,
                            )
                        left += bright
                    darkest, brightest = min(darkest, bright), max(brightest, bright)
                lit[row, col, 0], lit[row, col, 1], lit[row, col, 2] = (
                    red / count,
                    green / count,
                    blue / count,
                )
                ground[row, col] = left / count


@njit(parallel=True, fastmath=True, cache=True)
def player_shade(capsules, light, grid, shades):
    """Factor on the light at places of the ground, from capsules (n, 7) of the player: soft, never
    quite dark."""
    for i in prange(shades.shape[0]):
        for j in range(shades.shape[1]):
            gx, gy = grid[0] + i * grid[2], grid[1] + j * grid[2]
            hidden = 0.0
            for n in range(capsules.shape[0]):
                c = capsules[n]
                hidden = max(hidden, shadow_of_axis(c[0], c[1], c[2], c[3], c[4], c[5], c[6], gx, gy, light))
                if hidden > 0.999:
                    break
            shades[i, j] = 1.0 - light[3] * hidden
