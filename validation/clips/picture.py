"""Pictures of a scene, one after the other: the empty scene once, moving things where they are."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from pacewright.core.equipment import BALL_RADIUS_M
from pacewright.core.recording import FloatArray
from validation.clips import raycast, sensor
from validation.clips.camera import rotations
from validation.clips.footprint import samples
from validation.clips.ground import make_ground, picture_of
from validation.clips.heads import HEADS, cells, maps
from validation.clips.hits import FAINTEST
from validation.clips.player import SHAFT_CAPSULES, bodies
from validation.clips.scene import Scene

TILE_PX = 8
BAND_ROWS = 4
COARSE_PX = 8
PLAYER_STEP_M = 3e-5
"""The player's body is drawn anew once it has moved this far (0.03 px)."""


@dataclass(frozen=True)
class Poses:
    """Where everything is at times (bands, samples)."""

    cameras: FloatArray
    heads: FloatArray
    balls: FloatArray
    capsules: FloatArray
    ellipsoids: FloatArray
    torso: FloatArray


class Renderer:
    """Takes the pictures of a scene. ``frame`` must be asked in order of time."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.rng = np.random.default_rng(scene.seed)
        camera = scene.camera
        self.corners = camera.corner_directions()
        self.light = scene.light.row()
        self.distances, self.heights, self.colour = maps(scene.shape, scene.coat, self.rng)
        self.reach = _bounds(scene.shape, float(scene.timeline.path.side))
        self.ball_looks = np.array([[*b.colour, b.mark] for b in scene.balls]).reshape(-1, 4)
        first = bodies(scene.player, scene.timeline, np.zeros((1, 1)))
        self.capsule_coats, self.ellipsoid_coats = first.capsule_coats, first.ellipsoid_coats
        self._empty_scene()
        shape = (camera.height, camera.width)
        self.lit, self.left = np.zeros((*shape, 3), np.float32), np.ones(shape, np.float32)
        self.tiles_shape = (-(-shape[0] // TILE_PX), -(-shape[1] // TILE_PX))
        self.masks = np.zeros(self.tiles_shape, np.int64)
        self.drawn: dict[str, FloatArray] = {}
        self.fall = sensor.falloff(scene.light, camera.width, camera.height)
        self.curve = sensor.noise_curve(scene.noise)
        self.field = sensor.noise_field(camera.width, camera.height, self.rng)
        self._shade_grid()

    def _empty_scene(self) -> None:
        scene = self.scene
        lines = np.array(scene.lines, dtype=float).reshape(-1, 6)
        ground = make_ground(scene.ground, self.rng, lines=lines, wall_y_m=scene.wall_y_m)
        offsets, _ = samples(20, scene.footprint_sd_px)
        self.density = 1 if scene.shake.still else 2
        dense = picture_of(ground, scene.camera, offsets, self.density)
        self.dense = np.power(dense, np.float32(1 / sensor.GAMMA), out=dense)
        if self.density == 1:
            self.signal = self.dense
            self.luma, self.blue, self.red = sensor.planes(self.signal)

    def _shade_grid(self) -> None:
        """The patch of ground that the picture shows, and which place of it a coarse pixel shows."""
        camera = self.scene.camera
        x = np.arange(0, camera.width + COARSE_PX, COARSE_PX) - 0.5
        y = np.arange(0, camera.height + COARSE_PX, COARSE_PX) - 0.5
        plane = camera.directions(np.stack(np.meshgrid(x, y), axis=-1))
        rays = np.concatenate([plane, np.ones((*plane.shape[:2], 1))], axis=-1) @ camera.rotation
        down = rays[..., 2] < -1e-3
        t = np.where(down, -camera.position_m[2] / np.where(down, rays[..., 2], -1.0), 0.0)
        places = (camera.position_m + t[..., None] * rays)[..., :2]
        self.coarse_down = down & (np.abs(places).max(axis=-1) < 1.6)
        low, high = places[self.coarse_down].min(axis=0), places[self.coarse_down].max(axis=0)
        cell = float(np.clip(0.5 * self.light[4], 0.006, 0.016))
        self.grid = np.array([low[0] - 0.05, low[1] - 0.05, cell])
        cells = ((high - low + 0.1) / cell).astype(int) + 2
        self.shades = np.ones((cells[0], cells[1]), np.float64)
        self.coarse_uv = ((places - self.grid[:2]) / cell).astype(np.float32)
        self.shade = np.ones((camera.height, camera.width), np.float32)

    def poses(self, time_s: FloatArray) -> Poses:
        """Everything at times (bands, samples)."""
        scene = self.scene
        origin, rotation = scene.timeline.head(time_s)
        heads = np.concatenate([origin, rotation.reshape(*time_s.shape, 9)], axis=-1)
        balls = []
        for look in scene.balls:
            centre, turned = scene.timeline.ball_at(time_s)
            if look.place_m is not None:
                centre = np.broadcast_to([*look.place_m, BALL_RADIUS_M], centre.shape)
                turned = np.broadcast_to(np.eye(3), turned.shape)
            turned = turned @ rotations(np.array(look.turn))
            balls.append(np.concatenate([centre, turned.reshape(*time_s.shape, 9)], axis=-1))
        body = bodies(scene.player, scene.timeline, time_s)
        no_ball = np.zeros((*time_s.shape, 0, 12))
        return Poses(
            scene.shake.poses(scene.camera, time_s), heads, np.stack(balls, axis=-2) if balls else no_ball,
            body.capsules, body.ellipsoids, body.torso,
        )  # fmt: skip

    def frame(self, time_s: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Luma and the halved colour planes of the picture whose exposure is centred at ``time_s``: 8 bit."""
        return self.take(time_s, 8)

    def row_times_s(self, time_s: float) -> FloatArray:
        """Middle of the exposure of each row."""
        rows = np.arange(self.scene.camera.height)
        return np.asarray(time_s + (rows / (rows.size - 1) - 0.5) * self.scene.shutter.readout_s)

    def take(self, time_s: float, bits: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """As ``frame``, with that many bits a sample (8 or 10)."""
        scene, camera = self.scene, self.scene.camera
        rows_s = self.row_times_s(time_s)
        self._draw(time_s, rows_s)
        if self.density > 1:
            self._shift_scene(rows_s)
        kind = np.uint8 if bits == 8 else np.uint16
        out = np.empty((camera.height, camera.width), kind)
        blue, red = (np.empty((camera.height // 2, camera.width // 2), kind) for _ in range(2))
        times = 2 ** (bits - 8)
        sensor.develop(
            self.signal, self.luma, self.blue, self.red, self.masks != 0, TILE_PX, self.lit, self.left,
            self.shade,
            self.fall, sensor.row_gain(scene.light, rows_s, scene.shutter.exposure_s), self.curve, self.field,
            self.rng.integers(0, 256, 6), scene.noise.chroma_share, 219.0 * times, 16.0 * times,
            256.0 * times - 2.0,
            sensor.TO_SIGNAL, sensor.TO_LIGHT, out, blue, red,
        )  # fmt: skip
        return out, blue, red

    def _draw(self, time_s: float, rows_s: FloatArray) -> None:
        """Bring what the tiles hold of the moving things up to this exposure."""
        scene = self.scene
        half = 0.5 * scene.shutter.exposure_s
        outline = self.poses(np.linspace(rows_s[0] - half, rows_s[-1] + half, 5)[None, :])
        self._draw_shade(outline)
        masks = self._masks(outline)
        moved = self._moved(outline)
        again = ((masks & moved) != 0) | (((masks ^ self.masks) & ~masks) != 0) | (masks != self.masks)
        if not scene.shake.still:
            again = (masks != 0) | (self.masks != 0)
        gone = again & (masks == 0)
        self.masks = masks
        for i, j in np.argwhere(gone):
            window = np.s_[i * TILE_PX : (i + 1) * TILE_PX, j * TILE_PX : (j + 1) * TILE_PX]
            self.lit[window], self.left[window] = 0.0, 1.0
        tiles = np.argwhere(again & (masks != 0)).astype(np.int64)
        if tiles.size:
            self._cast(tiles, masks[tiles[:, 0], tiles[:, 1]], rows_s, self._samples(outline))

    def _samples(self, outline: Poses) -> int:
        """More samples the further things move while the shutter is open."""
        scale = self.scene.camera.pixels_per_m(np.zeros(3))
        moving = np.concatenate([outline.heads[0, :, :3], outline.balls[0, :, :1, :3].reshape(-1, 3)])
        steps = np.linalg.norm(np.diff(moving, axis=0), axis=1)
        blur_px = scale * 4 * np.max(steps[steps < 0.05], initial=0.0)
        return int(np.clip(10 + 1.3 * blur_px, 12, 32))

    def _cast(self, tiles: FloatArray, masks: FloatArray, rows_s: FloatArray, count: int) -> None:
        scene = self.scene
        offsets, instants = samples(count, scene.footprint_sd_px)
        if scene.shutter.readout_s:
            band_s = rows_s[BAND_ROWS // 2 :: BAND_ROWS]
            row_band = np.minimum(np.arange(rows_s.size) // BAND_ROWS, band_s.size - 1)
        else:
            band_s, row_band = rows_s[:1], np.zeros(rows_s.size, np.int64)
        at = self.poses(band_s[:, None] + instants[None, :] * scene.shutter.exposure_s)
        raycast.cast(
            tiles, masks, TILE_PX, self.corners, row_band, offsets.astype(np.float64), at.cameras, at.heads,
            self.distances, self.heights, self.colour, scene.coat.gloss, at.balls, BALL_RADIUS_M,
            self.ball_looks,
            at.capsules, self.capsule_coats, at.ellipsoids, self.ellipsoid_coats, SHAFT_CAPSULES, self.light,
            float(scene.timeline.path.side), self.shades, self.grid, self.lit, self.left,
        )  # fmt: skip

    def _moved(self, outline: Poses) -> int:
        """Bits of the things that have moved since they were drawn."""
        capsules = outline.capsules.shape[2]
        things = [("head", outline.heads, 3, 0.0)]
        things += [
            (f"ball {n}", outline.balls[:, :, n], 12 << (2 * n), 0.0) for n in range(outline.balls.shape[2])
        ]
        things += [
            (f"capsule {n}", outline.capsules[:, :, n],
             (1 << (8 + n)) | (1 << 6 if n < SHAFT_CAPSULES else 0), PLAYER_STEP_M)
            for n in range(capsules)
        ]  # fmt: skip
        things += [
            (f"ellipsoid {n}", outline.ellipsoids[:, :, n], 1 << (8 + capsules + n), PLAYER_STEP_M)
            for n in range(outline.ellipsoids.shape[2])
        ]
        bits = 0
        for name, pose, mask, step in things:
            if name not in self.drawn or np.abs(pose - self.drawn[name]).max() > step + 1e-9:
                self.drawn[name] = pose
                bits |= mask
        return bits

    def _masks(self, outline: Poses) -> FloatArray:
        """Which things each tile may hold, as bits."""
        masks = np.zeros(self.tiles_shape, np.int64)
        heads, balls, capsules = outline.heads[0], outline.balls[0], outline.capsules[0]
        corners = heads[:, None, :3] + np.einsum("tij,cj->tci", heads[:, 3:].reshape(-1, 3, 3), self.reach)
        self._mark(masks, corners.reshape(-1, 3), 1)
        wide = 0.002 + 0.03 * self.light[4] / self.light[2] ** 2
        square = np.array([[x, y, 0.0] for x in (-1, 1) for y in (-1, 1)])
        below = np.concatenate([
            (self._on_ground(corners)[..., None, :] + wide * square).reshape(-1, 3),
            ((corners * [1, 1, 0])[..., None, :] + raycast.HEAD_NEAR_M * square).reshape(-1, 3),
        ])  # fmt: skip
        self._mark(masks, below, 2)
        cube = BALL_RADIUS_M * np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
        for n in range(balls.shape[1]):
            centres = balls[:, n, None, :3]
            self._mark(masks, (centres + cube).reshape(-1, 3), 4 << (2 * n))
            below = np.concatenate(
                [self._on_ground(centres + cube), centres * [1, 1, 0] + 1.75 * cube * [1, 1, 0]]
            )
            self._mark(masks, (below.reshape(-1, 1, 3) + 1.5 * wide * square).reshape(-1, 3), 8 << (2 * n))
        for n in range(capsules.shape[1]):
            self._mark_capsule(masks, capsules[:, n], n)
        for n in range(outline.ellipsoids.shape[2]):
            e = outline.ellipsoids[0, :, n]
            box = (
                np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])[None]
                * e[:, None, 12:]
            )
            turned = np.einsum("tij,tcj->tci", e[:, 3:12].reshape(-1, 3, 3), box)
            self._mark(masks, (e[:, None, :3] + turned).reshape(-1, 3), 1 << (8 + capsules.shape[1] + n))
        return masks

    def _mark_capsule(self, masks: FloatArray, ends: FloatArray, n: int) -> None:
        """Cut into pieces, since a slanting one crosses few of the tiles of its bounding box."""
        cube = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
        shares = np.linspace(0, 1, 13)[None, :, None]
        points = ends[:, None, :3] + shares * (ends[:, None, 3:6] - ends[:, None, :3])
        radius = ends[0, 6]
        for k in range(12):
            piece = points[:, k : k + 2].reshape(-1, 1, 3)
            self._mark(masks, (piece + radius * cube).reshape(-1, 3), 1 << (8 + n))
            if n < SHAFT_CAPSULES:
                soft = piece[..., 2:].max() * self.light[4] / self.light[2]
                if radius < FAINTEST * piece[..., 2:].min() * self.light[4] / self.light[2]:
                    continue
                soft = radius + 0.001 + soft / self.light[2]
                self._mark(masks, (self._on_ground(piece) + soft * cube * [1, 1, 0]).reshape(-1, 3), 1 << 6)

    def _on_ground(self, points: FloatArray) -> FloatArray:
        """Where the light casts points onto the ground."""
        return np.asarray(points - points[..., 2:] / self.light[2] * self.light[:3])

    def _mark(self, masks: FloatArray, points: FloatArray, bit: int) -> None:
        camera = self.scene.camera
        ahead = (points - camera.position_m) @ camera.rotation[2]
        if ahead.min() < 0.05:
            if ahead.max() < 0.05:
                return
            points = points[ahead >= 0.05]
        margin = 3.0 if self.scene.shake.still else 14.0
        pixels = camera.project(points)
        (x0, y0), (x1, y1) = pixels.min(axis=0) - margin, pixels.max(axis=0) + margin
        if x1 < 0 or y1 < 0 or x0 >= camera.width or y0 >= camera.height:
            return
        i0, i1 = int(max(y0, 0)) // TILE_PX, int(min(y1, camera.height - 1)) // TILE_PX
        j0, j1 = int(max(x0, 0)) // TILE_PX, int(min(x1, camera.width - 1)) // TILE_PX
        masks[i0 : i1 + 1, j0 : j1 + 1] |= bit

    def _draw_shade(self, outline: Poses) -> None:
        """The player's soft shadow on the ground, once it has moved a tenth of a millimetre."""
        casting = np.concatenate([outline.capsules[0, 2, SHAFT_CAPSULES - 1 :], outline.torso[0, 2]])
        if not len(casting) or ("shade" in self.drawn and np.abs(casting - self.drawn["shade"]).max() < 2e-4):
            return
        self.drawn["shade"] = casting
        raycast.player_shade(casting, self.light, self.grid, self.shades)
        u, v = self.coarse_uv[..., 1], self.coarse_uv[..., 0]
        coarse = cv2.remap(
            self.shades.astype(np.float32), u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        coarse = np.where(self.coarse_down, coarse, 1.0).astype(np.float32) ** np.float32(1 / sensor.GAMMA)
        height, width = self.shade.shape
        # The coarse points stand on corners of pixels: enlarge about them.
        scale = np.array([[COARSE_PX, 0, -0.5], [0, COARSE_PX, -0.5]], dtype=np.float32)
        self.shade = cv2.warpAffine(coarse, scale, (width, height), flags=cv2.INTER_LINEAR,
                                    borderMode=cv2.BORDER_REPLICATE)  # fmt: skip

    def _shift_scene(self, rows_s: FloatArray) -> None:
        """The empty scene as the moved camera sees it: where each pixel looks, in the picture
        taken at rest."""
        scene, camera = self.scene, self.scene.camera
        x = np.arange(0, camera.width + 32, 32) - 0.5
        y = np.arange(0, camera.height + 32, 32) - 0.5
        pixels = np.stack(np.meshgrid(x, y), axis=-1)
        time_s = np.interp(y, np.arange(rows_s.size), rows_s)[:, None] + np.zeros(x.size)
        poses = scene.shake.poses(camera, time_s)
        plane = np.concatenate([camera.directions(pixels), np.ones((*pixels.shape[:2], 1))], axis=-1)
        rays = np.einsum("...i,...ij->...j", plane, poses[..., 3:].reshape(*time_s.shape, 3, 3))
        t = np.where(rays[..., 2] < -0.02, -poses[..., 2] / np.minimum(rays[..., 2], -0.02), 50.0)
        if np.isfinite(scene.wall_y_m):
            aim = rays[..., 1] * np.sign(scene.wall_y_m)
            t = np.minimum(t, np.abs(scene.wall_y_m - poses[..., 1]) / np.maximum(aim, 1e-6))
        at_rest = camera.project(poses[..., :3] + t[..., None] * rays)
        dense = ((at_rest + 0.5) * self.density - 0.5).astype(np.float32)
        scale = np.array([[32, 0, -0.5], [0, 32, -0.5]], dtype=np.float32)
        size = (camera.width, camera.height)
        u, v = (
            cv2.warpAffine(np.ascontiguousarray(dense[..., c]), scale, size, flags=cv2.INTER_LINEAR)
            for c in (0, 1)
        )
        self.signal = cv2.remap(self.dense, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
        self.luma, self.blue, self.red = sensor.planes(self.signal)


def _bounds(shape: str, side: float) -> FloatArray:
    """Corners (8, 3) of a box round a head, in its frame, with a millimetre to spare."""
    x, y = cells()
    inside = np.min([part.distance(x, y) for part in HEADS[shape]], axis=0) < 0.001
    ends = [(x[inside].min(), x[inside].max()), (side * y[inside].min(), side * y[inside].max())]
    high = max(part.high_m for part in HEADS[shape])
    return np.array([[a, b, c] for a in ends[0] for b in ends[1] for c in (0.0, high)])
