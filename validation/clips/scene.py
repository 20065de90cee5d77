"""What a clip shows and how it is filmed: plain descriptions, nothing drawn yet."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from pacewright.core.recording import FloatArray
from validation.clips.camera import Camera, Shake
from validation.clips.heads import Coat
from validation.clips.motion import Timeline
from validation.clips.player import Player


@dataclass(frozen=True)
class Light:
    """One lamp or the sun, and light from all round.

    ``direction`` (3,) points to the lamp; ``key`` is its share of the light on open ground; ``softness`` the
    tangent of its half angle (sun 0.005, a window 0.2). ``flicker_hz`` 0, 100 or 120;
    ``flicker_depth`` is the part of the brightness that swings.
    """

    direction: FloatArray = field(default_factory=lambda: np.array([0.3, 0.2, 0.93]))
    key: float = 0.4
    softness: float = 0.08
    flicker_hz: float = 0.0
    flicker_depth: float = 0.0
    vignetting: float = 0.15
    gradient: tuple[float, float] = (0.0, 0.0)
    exposure: float = 1.6

    def row(self) -> FloatArray:
        """Direction, key, softness and light from all round, as the rays take them."""
        unit = self.direction / np.linalg.norm(self.direction)
        return np.array([*unit, self.key, self.softness, 1.0 - self.key])


@dataclass(frozen=True)
class BallLook:
    """Colour in linear light, and what is printed on it: 0 nothing, 1 a line, 2 a logo, 3 dots."""

    colour: tuple[float, float, float] = (0.52, 0.52, 0.50)
    mark: int = 0
    place_m: tuple[float, float] | None = None
    """Where a ball that nobody hits lies; None for the one that is hit."""
    turn: tuple[float, float, float] = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Shutter:
    """When pictures are taken: rate, exposure, readout from the first row to the last, irregular times.

    ``jitter_share`` is the SD of a picture's time in parts of a step; ``dropped_share`` of all are missing.
    """

    rate_hz: float = 240.0
    exposure_s: float = 1.0 / 480.0
    readout_s: float = 0.0
    jitter_share: float = 0.0
    dropped_share: float = 0.0

    def times_s(self, length_s: float, rng: np.random.Generator) -> FloatArray:
        """Middle of the exposure of the middle row of each picture, the first at zero."""
        steps = np.arange(max(int(length_s * self.rate_hz), 2)) / self.rate_hz
        if self.jitter_share:
            shift = np.clip(rng.normal(0, self.jitter_share, steps.size), -0.4, 0.4)
            steps = steps + (shift - shift[0]) / self.rate_hz
        kept = rng.random(steps.size) >= self.dropped_share
        kept[0] = True
        return np.asarray(steps[kept])


@dataclass(frozen=True)
class Noise:
    """Noise of the sensor in 8-bit levels at mid grey, what of it is there in the dark, and colour noise."""

    mid_grey_levels: float = 1.5
    read_share: float = 0.3
    chroma_share: float = 0.5


@dataclass(frozen=True)
class Scene:
    """All that is in front of the camera, the camera itself, and when it takes pictures."""

    camera: Camera
    timeline: Timeline
    view: str
    shape: str = "mallet"
    coat: Coat = field(default_factory=Coat)
    player: Player = field(default_factory=Player)
    balls: tuple[BallLook, ...] = (BallLook(),)
    ground: str = "grass"
    lines: tuple[tuple[float, float, float, float, float, float], ...] = ()
    wall_y_m: float = float("nan")
    light: Light = field(default_factory=Light)
    shutter: Shutter = field(default_factory=Shutter)
    noise: Noise = field(default_factory=Noise)
    shake: Shake = field(default_factory=Shake)
    footprint_sd_px: float = 0.42
    seed: int = 0
