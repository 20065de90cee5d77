"""A small film of a putt from above with its track, drawn plainly, for what is made of clips."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import chain
from pathlib import Path

import av
import cv2
import numpy as np

from pacewright.core.clip import ClipTrack
from pacewright.core.measure import Measure
from pacewright.core.recording import FloatArray
from pacewright.core.stroke import Stroke
from pacewright.simulate.stroke_model import StrokeModel

START_S, AFTER_S = 0.5, 0.4
BALL_RADIUS_M = 0.0213


@dataclass(frozen=True)
class Scene:
    """Size, rate, and how the camera trembles (amplitude in pixels)."""

    size_px: tuple[int, int] = (640, 360)
    rate_hz: float = 120.0
    play_rate_hz: float = 120.0
    tremble_px: float = 0.0
    metres_a_picture: float = 0.9
    model: StrokeModel = field(default_factory=lambda: StrokeModel(backswing_length_m=0.2))

    @property
    def scale(self) -> float:
        return self.size_px[0] / self.metres_a_picture

    @property
    def time_s(self) -> FloatArray:
        return np.arange(0.0, START_S + self.model.finish_time_s + AFTER_S, 1.0 / self.rate_hz)

    @property
    def contact_s(self) -> float:
        return START_S + self.model.impact_time_s

    def head_m(self, time_s: FloatArray) -> FloatArray:
        """The face along the line: behind the ball by its radius at contact."""
        return self.model.position_m(time_s - START_S)

    def ball_m(self, time_s: FloatArray) -> FloatArray:
        speed = 1.6 * self.model.impact_speed_m_s
        return np.maximum(time_s - self.contact_s, 0.0) * speed

    @property
    def rest_px(self) -> tuple[float, float]:
        return 0.5 * self.size_px[0], 0.55 * self.size_px[1]

    @property
    def camera_px(self) -> FloatArray:
        return self.tremble_px * np.column_stack(
            [np.sin(7.0 * self.time_s), np.sin(11.0 * self.time_s + 1.0) - np.sin(1.0)]
        )

    def track(self) -> ClipTrack:
        time_s, camera = self.time_s, self.camera_px
        n = time_s.size
        x0, y0 = self.rest_px
        arc = 0.02 * (self.head_m(time_s) / 0.2) ** 2
        head = (
            np.column_stack([x0 + (self.head_m(time_s) - 0.03) * self.scale, y0 + arc * self.scale]) + camera
        )
        ball = np.column_stack([x0 + self.ball_m(time_s) * self.scale, np.full(n, y0)]) + camera
        ball[ball[:, 0] > self.size_px[0] + 20] = np.nan
        to_picture = np.array([[self.scale, 0, x0], [0, -self.scale, y0], [0, 0, 1.0]])
        return ClipTrack(
            view="above", left_handed=False, picture_size_px=self.size_px, play_rate_hz=self.play_rate_hz,
            frame=np.arange(n), time_s=time_s, head_px=head, head_angle_rad=np.zeros(n),
            head_confidence=np.ones(n), ball_px=ball, ball_confidence=np.ones(n),
            ball_radius_px=BALL_RADIUS_M * self.scale, camera_px=camera, to_picture=to_picture,
        )  # fmt: skip

    def stroke(self) -> Stroke:
        model = self.model
        events = {
            "takeaway": START_S,
            "top": START_S + model.backswing_time_s,
            "impact": self.contact_s,
            "finish": START_S + model.finish_time_s,
        }
        measures = {
            "backswing_time_s": Measure(model.backswing_time_s, 0.008),
            "downswing_time_s": Measure(model.downswing_time_s, 0.004),
            "time_ratio": Measure(model.backswing_time_s / model.downswing_time_s, 0.03),
            "impact_speed_m_s": Measure(model.impact_speed_m_s, 0.006),
            "ball_speed_m_s": Measure(1.6 * model.impact_speed_m_s, 0.01),
        }
        return Stroke("putt", {k: Measure(v, 0.001) for k, v in events.items()}, measures)

    def pictures(self) -> list[np.ndarray]:
        """RGB pictures, upright."""
        return list(self.each_picture())

    def each_picture(self) -> Iterator[np.ndarray]:
        """RGB pictures, upright, one by one."""
        width, height = self.size_px
        rng = np.random.default_rng(0)
        ground = cv2.GaussianBlur(
            rng.normal(0, 40, (height + 40, width + 40, 1)).astype(np.float32), (0, 0), 2
        )
        ground = np.clip(np.array([88, 122, 70]) + ground[..., None] * [1, 1, 0.7], 0, 255).astype(np.uint8)
        track = self.track()
        for k in range(track.frame.size):
            yield self._picture(ground, track, k)

    def _picture(self, ground: np.ndarray, track: ClipTrack, k: int) -> np.ndarray:
        dx, dy = track.camera_px[k]
        move = np.array([[1.0, 0, dx - 20], [0, 1.0, dy - 20]])
        seen = cv2.warpAffine(ground, move, self.size_px, flags=cv2.INTER_LINEAR)
        if np.isfinite(track.ball_px[k]).all():
            _disc(seen, track.ball_px[k], track.ball_radius_px, (235, 235, 230))
        half = np.array([0.012, 0.05]) * self.scale
        low, high = track.head_px[k] - half, track.head_px[k] + half
        corners = np.round(np.array([low, [high[0], low[1]], high, [low[0], high[1]]]) * 16).astype(np.int32)
        cv2.fillPoly(seen, [corners], (40, 42, 50), cv2.LINE_AA, 4)
        return seen


def _disc(picture: np.ndarray, place: FloatArray, radius: float, colour: tuple[int, int, int]) -> None:
    x, y = np.round(place * 16).astype(int)
    cv2.circle(picture, (int(x), int(y)), round(radius * 16), colour, -1, cv2.LINE_AA, 4)


def write_clip(
    path: Path,
    pictures: Iterable[np.ndarray],
    play_rate_hz: float,
    *,
    codec: str = "libx264",
    quarter_turns: int = 0,
    sound_hz: float | None = None,
    bit_rate: int | None = None,
) -> None:
    """Encode pictures; ``quarter_turns`` lays them on their side and says so in the file."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=Fraction(play_rate_hz).limit_denominator(1001))
        laid = (np.ascontiguousarray(np.rot90(picture, quarter_turns)) for picture in pictures)
        first = next(laid)
        stream.height, stream.width = first.shape[:2]
        stream.pix_fmt = "yuvj420p" if codec == "mjpeg" else "yuv420p"
        if bit_rate is not None:
            stream.bit_rate = bit_rate
            stream.options = {"preset": "superfast"}
        if quarter_turns:
            stream.set_display_rotation(-90 * quarter_turns)  # counter-clockwise, as the file counts
        sound = container.add_stream("aac", rate=48000, layout="stereo") if sound_hz else None
        count = 0
        for picture in chain([first], laid):
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
            count += 1
        container.mux(stream.encode())
        if sound is not None and sound_hz:
            seconds = count / play_rate_hz
            tone = 0.3 * np.sin(2 * np.pi * sound_hz * np.arange(int(48000 * seconds)) / 48000)
            for start in range(0, tone.size - 1024, 1024):
                piece = np.tile(tone[start : start + 1024], (2, 1)).astype(np.float32)
                frame = av.AudioFrame.from_ndarray(
                    np.ascontiguousarray(piece), format="fltp", layout="stereo"
                )
                frame.sample_rate, frame.pts, frame.time_base = 48000, start, Fraction(1, 48000)
                container.mux(sound.encode(frame))
            container.mux(sound.encode())
