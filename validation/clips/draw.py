"""Scenes drawn at random within stated ranges: players, strokes, cameras, light, ground, heads."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from pacewright.core.equipment import BALL_MASS_KG
from pacewright.core.recording import FloatArray
from pacewright.simulate.laws import LawStroke, random_law_stroke
from pacewright.simulate.stroke_model import StrokeModel, random_stroke
from validation.clips.camera import Camera, Shake, looking_at
from validation.clips.heads import HEADS, Coat
from validation.clips.motion import BallRun, Path, Timeline
from validation.clips.player import Player
from validation.clips.scene import BallLook, Light, Noise, Scene, Shutter

COATS = {
    "dark": Coat((0.03, 0.03, 0.035), (0.7, 0.7, 0.7), gloss=0.12),
    "steel": Coat((0.28, 0.28, 0.29), (0.02, 0.02, 0.02), gloss=0.35),
    "white": Coat((0.55, 0.55, 0.54), (0.03, 0.03, 0.03), gloss=0.10),
    "red": Coat((0.35, 0.03, 0.03), (0.7, 0.7, 0.7), gloss=0.2),
    "blue": Coat((0.03, 0.06, 0.25), None, gloss=0.2),
    "unmarked": Coat((0.10, 0.10, 0.11), None, gloss=0.15),
    "shiny": Coat((0.30, 0.30, 0.31), None, gloss=0.9),
    "sticker": Coat((0.05, 0.05, 0.055), (0.7, 0.7, 0.7), sticker=(0.65, 0.03, 0.25), gloss=0.15),
}
GROUNDS = ("grass", "dry grass", "carpet", "blue carpet", "mat")


@dataclass(frozen=True)
class Recipe:
    """What is asked of a scene; what is None is drawn."""

    view: str = "above"
    size_px: tuple[int, int] = (1920, 1080)
    shutter: Shutter = field(default_factory=Shutter)
    ground: str | None = None
    shape: str | None = None
    coat: str | None = None
    left_handed: bool = False
    mark: int | None = None
    second_ball: bool = False
    no_ball: bool = False
    no_stroke: bool = False
    still: bool = False
    shadows: bool = False
    shoes_near: bool = False
    waggle: bool = False
    rehearsal: bool = False
    tremble_px: float = 0.0
    nudge_px: float = 0.0
    flicker_hz: float = 0.0
    noise_levels: tuple[float, float] = (0.8, 1.6)
    distortion: float = 0.03
    player_on_top: bool | None = None


def scene_of(recipe: Recipe, seed: int) -> Scene:
    """A scene after the recipe; the same seed gives the same scene."""
    rng = np.random.default_rng(seed)
    side = -1 if recipe.left_handed else 1
    width_m = 1.92 * rng.uniform(0.62, 0.98)
    timeline = _timeline(recipe, rng, side, width_m)
    camera = _camera(recipe, rng, side, width_m)
    shape = recipe.shape or str(rng.choice(list(HEADS)))
    ground = recipe.ground or str(rng.choice(GROUNDS))
    coat = _coat(recipe, rng, ground)
    colour = [(0.52, 0.52, 0.50), (0.50, 0.50, 0.52), (0.52, 0.45, 0.05)][rng.choice(3, p=[0.6, 0.3, 0.1])]
    mark = recipe.mark if recipe.mark is not None else int(rng.choice(4, p=[0.4, 0.2, 0.3, 0.1]))
    turn = tuple(float(a) for a in rng.uniform(-0.4, 0.4, 3))
    balls = () if recipe.no_ball else (BallLook(colour, mark, turn=turn),)
    if recipe.second_ball:
        place = (float(rng.uniform(-0.15, 0.25)), float(-side * rng.uniform(0.10, 0.2)))
        balls = (*balls, BallLook(colour, 0, place_m=place))
    return Scene(
        camera, timeline, recipe.view, shape, coat, _player(recipe, rng), balls, ground,
        _lines(rng, ground), side * float(rng.uniform(1.8, 4.0)) if recipe.view == "front" else float("nan"),
        _light(recipe, rng, side), recipe.shutter, Noise(float(rng.uniform(*recipe.noise_levels))),
        _shake(recipe, rng, camera), footprint_sd_px=float(rng.uniform(0.40, 0.55)), seed=seed,
    )  # fmt: skip


def _stroke(rng: np.random.Generator, width_m: float) -> StrokeModel | LawStroke:
    """A stroke that fits into the picture; one in four follows a law of its own. Head mass and
    bounce are drawn."""
    while True:
        if rng.random() < 0.25:
            law = ("half cosine", "minimum jerk", "driven pendulum")[int(rng.integers(3))]
            model: StrokeModel | LawStroke = random_law_stroke(rng, law)  # type: ignore[arg-type]
        else:
            # The head does not go forward before the stroke: it stands at the ball.
            model = replace(random_stroke(rng), press_length_m=0.0)
        ends = model.backswing_length_m, model.follow_through_length_m
        if max(ends) < 0.5 * width_m - 0.17 and model.finish_time_s < 2.2:
            return model


def _timeline(recipe: Recipe, rng: np.random.Generator, side: int, width_m: float) -> Timeline:
    head_kg, bounce = rng.uniform(0.33, 0.38), rng.uniform(0.75, 0.84)
    kept = (head_kg - bounce * BALL_MASS_KG) / (head_kg + BALL_MASS_KG)
    path = Path(
        side,
        arc_radius_m=float(rng.uniform(2.0, 8.0)), swing_radius_m=float(rng.uniform(1.1, 1.7)),
        low_point_m=float(rng.uniform(-0.03, 0.05)), clearance_m=float(rng.uniform(0.0005, 0.004)),
        face_angle_rad=float(np.radians(rng.normal(0, 1.2))), face_rate_rad_m=float(rng.uniform(0.1, 0.5)),
    )  # fmt: skip
    if recipe.still or recipe.no_stroke:
        return Timeline(None, path, None, still_length_s=1.2)
    model = replace(_stroke(rng, width_m), speed_kept=1.0 if recipe.no_ball else float(kept))
    path = replace(path, path_angle_rad=model.path_angle_rad)
    direction = 0.85 * path.face_angle_rad + 0.15 * path.path_angle_rad
    speed = (1 + bounce) * head_kg / (head_kg + BALL_MASS_KG) * model.truth()["impact_speed_m_s"]
    run = BallRun(
        float(speed), float(direction), float(np.radians(rng.uniform(0, 3.0))), float(rng.uniform(0.15, 0.4)),
        float(rng.uniform(0.35, 0.8)),
    )  # fmt: skip
    return Timeline(
        model, path, None if recipe.no_ball else run,
        still_before_s=float(rng.uniform(0.5, 0.8)), still_after_s=float(rng.uniform(0.25, 0.4)),
        waggle_m=float(rng.uniform(0.03, 0.07)) if recipe.waggle else 0.0,
        rehearsal=_rehearsal(rng, width_m) if recipe.rehearsal else None,
    )  # fmt: skip


def _rehearsal(rng: np.random.Generator, width_m: float) -> StrokeModel:
    while True:
        model = replace(random_stroke(rng, rehearsal=True), press_length_m=0.0)
        if max(model.backswing_length_m, model.follow_through_length_m) < 0.5 * width_m - 0.17:
            return model


def _camera(recipe: Recipe, rng: np.random.Generator, side: int, width_m: float) -> Camera:
    width, height = recipe.size_px
    centre_x = float(rng.uniform(-0.03, 0.03))
    k1 = float(rng.uniform(-recipe.distortion, recipe.distortion))
    if recipe.view == "above":
        z = float(rng.uniform(1.2, 2.2))
        position = np.array([centre_x + rng.uniform(-0.08, 0.08), -side * rng.uniform(0.0, 0.3), z])
        aim = np.array([centre_x, side * rng.uniform(-0.03, 0.10), 0.0])
        top = rng.random() < 0.5 if recipe.player_on_top is None else recipe.player_on_top
        up = np.array([0.0, side if top else -side, 0.0])
    else:
        distance = float(rng.uniform(1.1, 2.5))
        position = np.array([centre_x + rng.uniform(-0.05, 0.05), -side * distance, rng.uniform(0.12, 0.55)])
        aim = np.array([centre_x, 0.0, rng.uniform(0.08, 0.2)])
        up = np.array([0.0, 0.0, 1.0])
    away = float(np.linalg.norm(aim - position))
    rotation = looking_at(position, aim, up, float(np.radians(rng.normal(0, 1.0))))
    return Camera(width, height, away * width / width_m, position, rotation, k1, -0.3 * k1)


def _coat(recipe: Recipe, rng: np.random.Generator, ground: str) -> Coat:
    from validation.clips.ground import COLOURS

    if recipe.coat == "like the ground":
        tone = np.array(COLOURS[ground]) * rng.uniform(0.85, 1.1)
        return Coat((float(tone[0]), float(tone[1]), float(tone[2])), None, gloss=0.03)
    return COATS[recipe.coat or str(rng.choice(["dark", "steel", "white", "red", "blue", "unmarked"]))]


def _player(recipe: Recipe, rng: np.random.Generator) -> Player:
    shades = [(0.6, 0.6, 0.6), (0.05, 0.05, 0.06), (0.35, 0.33, 0.30)]
    clothes = [(0.05, 0.06, 0.09), (0.30, 0.26, 0.18), (0.08, 0.08, 0.08)]
    shirts = [(0.45, 0.08, 0.07), (0.5, 0.5, 0.5), (0.05, 0.12, 0.35)]
    skins = [(0.42, 0.25, 0.17), (0.25, 0.14, 0.09), (0.10, 0.055, 0.035), (0.5, 0.33, 0.25)]
    near = (0.16, 0.22) if recipe.shoes_near else (0.24, 0.34)
    sway = np.column_stack([rng.uniform(0.2, 1.2, 3), rng.uniform(0, 6, 3), rng.uniform(0.0003, 0.002, 3)])
    return Player(
        stance_m=float(rng.uniform(0.22, 0.42)), toe_line_m=float(rng.uniform(*near)),
        ball_place_m=float(rng.uniform(0.0, 0.08)), shoe=shades[rng.integers(3)],
        sole=shades[rng.integers(2)], trousers=clothes[rng.integers(3)], sleeve=shirts[rng.integers(3)],
        skin=skins[rng.integers(4)], sway=sway, hands_travel=float(rng.uniform(0.25, 0.5)),
        shoe_lift_s=float(rng.uniform(0.0, 0.3)) if recipe.shoes_near and rng.random() < 0.6 else np.inf,
    )  # fmt: skip


def _light(recipe: Recipe, rng: np.random.Generator, side: int) -> Light:
    elevation = np.radians(rng.uniform(42, 70))
    azimuth = rng.uniform(0, 2 * np.pi)
    key, softness = rng.uniform(0.2, 0.4), rng.uniform(0.1, 0.25)
    if recipe.shadows:  # from behind the player, so that the shadow falls over the ball
        azimuth = side * np.pi / 2 + rng.uniform(-0.9, 0.9)
        key, softness = rng.uniform(0.5, 0.75), rng.choice([0.005, rng.uniform(0.02, 0.08)])
    direction = np.array(
        [np.cos(elevation) * np.cos(azimuth), np.cos(elevation) * np.sin(azimuth), np.sin(elevation)]
    )
    return Light(
        direction, float(key), float(softness), recipe.flicker_hz,
        float(rng.uniform(0.08, 0.3)) if recipe.flicker_hz else 0.0, float(rng.uniform(0.05, 0.3)),
        (float(rng.normal(0, 0.06)), float(rng.normal(0, 0.06))), float(rng.uniform(1.3, 1.8)),
    )  # fmt: skip


def _lines(
    rng: np.random.Generator, ground: str
) -> tuple[tuple[float, float, float, float, float, float], ...]:
    """A mat's printed lines: along the target line on both sides, and across it."""
    if ground != "mat":
        return ()
    gap = rng.uniform(0.09, 0.16)
    along = [(0.0, y, 1.0, 0.0, 0.003, 0.55) for y in (-gap, gap)]
    across = [(float(x), 0.0, 0.0, 1.0, 0.002, 0.5) for x in np.arange(-3, 4) * 0.3048 + rng.uniform(0, 0.2)]
    return (*along, *across)


def _shake(recipe: Recipe, rng: np.random.Generator, camera: Camera) -> Shake:
    """Tremble of that many pixels rms in all, half of it below 4 Hz; a nudge that shifts the
    picture for good."""
    rows = np.zeros((0, 8))
    if recipe.tremble_px:
        count = 5
        each = recipe.tremble_px * np.sqrt(2.0 / count) / camera.focal_px
        rows = np.column_stack([
            [0.7, 1.9, 3.6, 6.5, 9.5], rng.uniform(0, 2 * np.pi, count), rng.normal(0, each, (count, 3)),
            rng.normal(0, 1e-4, (count, 3)),
        ])  # fmt: skip
    nudge: FloatArray = np.zeros(3)
    at = np.inf
    if recipe.nudge_px:
        nudge = rng.normal(0, 1, 3) * recipe.nudge_px / camera.focal_px
        at = float(rng.uniform(0.5, 1.2))
    return Shake(rows, at, nudge)
