"""One clip from its description: scene, pictures, sound, file, truth."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from validation.clips.encode import Encoding, Planes, write
from validation.clips.picture import Renderer
from validation.clips.scene import Scene
from validation.clips.sound import SPEED_OF_SOUND_M_S, Sound, track
from validation.clips.truth import Truth, row_delay_s, save, target_in_picture, tracks


@dataclass(frozen=True)
class Clip:
    """A named clip: its scene and how it is written. ``conditions`` are for the tables."""

    name: str
    group: str
    scene: Scene
    encoding: Encoding = field(default_factory=Encoding)
    sound: Sound | None = None
    conditions: dict[str, str] = field(default_factory=dict)

    @property
    def file_name(self) -> str:
        """Name with the container's ending."""
        return f"{self.name}.{self.encoding.ending}"


def build(clip: Clip, folder: Path) -> Path:
    """Render and encode a clip into ``folder``, with its truth beside it; returns the clip's path."""
    scene = clip.scene
    rng = np.random.default_rng([scene.seed, 7])
    length_s = scene.timeline.length_s
    times_s = scene.shutter.times_s(length_s, rng)
    sound = None
    if clip.sound is not None:
        distance_m = float(np.linalg.norm(scene.camera.position_m))
        hit = scene.timeline.contact_s if scene.timeline.ball is not None else float("nan")
        sound = track(clip.sound, hit, distance_m, length_s, rng), clip.sound.rate_hz
    path = folder / clip.file_name
    held_s = write(path, clip.encoding, times_s, _pictures(clip, times_s), scene.shutter.rate_hz, sound)
    save(path, truth_of(clip), tracks(scene, times_s, held_s, clip.encoding.turned_deg))
    return path


def _pictures(clip: Clip, times_s: np.ndarray) -> Iterator[Planes]:
    renderer = Renderer(clip.scene)
    for time_s in times_s:
        yield renderer.take(float(time_s), clip.encoding.bits)


def truth_of(clip: Clip) -> Truth:
    """The figures of a clip."""
    scene, timeline = clip.scene, clip.scene.timeline
    model, run = timeline.model, timeline.ball
    nan = float("nan")
    delay_s = row_delay_s(scene)
    start_s = timeline.takeaway_s - delay_s
    distance_m = float(np.linalg.norm(scene.camera.position_m))
    heard = clip.sound is not None and run is not None
    size = (scene.camera.width, scene.camera.height)
    return Truth(
        name=clip.name, group=clip.group, view=scene.view, left_handed=timeline.path.side < 0,
        target_in_picture=target_in_picture(scene, clip.encoding.turned_deg),
        stroke=model is not None, ball=bool(scene.balls),
        picture_size_px=size if clip.encoding.turned_deg in (0, 180) else size[::-1],
        rate_hz=scene.shutter.rate_hz, play_rate_hz=scene.shutter.rate_hz / clip.encoding.play_slower,
        exposure_s=scene.shutter.exposure_s, readout_s=scene.shutter.readout_s,
        pixels_per_m=scene.camera.pixels_per_m(np.array([0.0, 0.0, 0.0213])),
        contact_time_s=timeline.contact_s - delay_s, takeaway_time_s=start_s,
        top_time_s=start_s + model.backswing_time_s if model else nan,
        finish_time_s=start_s + model.finish_time_s if model else nan,
        measures=model.truth() if model else {},
        ball_speed_m_s=run.speed_m_s if run else nan,
        ball_speed_ratio=run.speed_m_s / model.truth()["impact_speed_m_s"] if run and model else nan,
        ball_direction_deg=float(np.degrees(run.direction_rad)) if run else nan,
        sound_contact_time_s=(
            timeline.contact_s + distance_m / SPEED_OF_SOUND_M_S + clip.sound.offset_s if heard and
            clip.sound else nan ),
        conditions=clip.conditions,
    )  # fmt: skip
