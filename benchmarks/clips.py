"""Speed of measuring a clip against decoding it alone: same clip, same threads, same run, alternating.

The clip is drawn on the spot: 1080p at 240 pictures a second, a textured ground with noise. Trackers of a
general library follow the head from its true place, on decoded pictures; accuracy beside speed.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np

from pacewright.core.clip import ClipTrack
from pacewright.tracking.clip import open_clip
from pacewright.tracking.record import record
from tests.app.clip_scene import Scene, write_clip

ROUNDS = 3
PHONE_BIT_RATE = 40_000_000
HEAD_HALF_M = np.array([0.015, 0.055])


def decode_alone(path: Path) -> int:
    with open_clip(path) as clip:
        return sum(1 for _ in clip.frames())


def follow(path: Path, tracker: cv2.Tracker, truth: ClipTrack, scale: float) -> np.ndarray:
    """Places of the head by a library's tracker, (n, 2)."""
    half = HEAD_HALF_M * scale
    places = []
    with open_clip(path) as clip:
        for frame in clip.frames():
            picture = cv2.cvtColor(frame.luma, cv2.COLOR_GRAY2BGR)
            if not places:
                x, y = truth.head_px[0] - half
                tracker.init(picture, (int(x), int(y), int(2 * half[0]), int(2 * half[1])))
                places.append(truth.head_px[0])
                continue
            found, box = tracker.update(picture)
            places.append(np.array([box[0] + box[2] / 2, box[1] + box[3] / 2]) if found else places[-1])
    return np.array(places)


def timed(action: Callable[[], object]) -> tuple[float, object]:
    start = time.perf_counter()
    result = action()
    return time.perf_counter() - start, result


def main() -> None:
    scene = Scene(size_px=(1920, 1080), rate_hz=240.0, play_rate_hz=240.0)
    truth = scene.track()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "putt.mp4"
        rng = np.random.default_rng(1)
        pictures = (
            np.clip(picture + rng.normal(0, 3, picture.shape[:2])[..., None], 0, 255).astype(np.uint8)
            for picture in scene.each_picture()
        )
        write_clip(path, pictures, scene.play_rate_hz, bit_rate=PHONE_BIT_RATE)
        frames = decode_alone(path)
        seconds: dict[str, list[float]] = {"decoding alone": [], "measuring": []}
        track: ClipTrack | None = None
        for _ in range(ROUNDS):
            seconds["decoding alone"].append(timed(lambda: decode_alone(path))[0])
            took, recording = timed(lambda: record(path))
            seconds["measuring"].append(took)
            track = recording.clip  # type: ignore[attr-defined]
        base = float(np.median(seconds["decoding alone"]))
        size_mb = path.stat().st_size / 1e6
        print(f"{frames} pictures of 1080p, {size_mb:.0f} MB; decoding {frames / base:.0f} a second")
        took = float(np.median(seconds["measuring"]))
        assert track is not None
        print(f"measuring       {base / took:6.2f} of decoding, {error(track.head_px, truth, track.frame)}")
        for name in ("TrackerCSRT", "TrackerKCF", "TrackerMIL"):
            made = getattr(cv2, f"{name}_create", None) or getattr(getattr(cv2, name, None), "create", None)
            if made is None:
                print(f"{name:15} is not in this build")
                continue
            took, places = timed(lambda made=made: follow(path, made(), truth, scene.scale))
            off = error(np.asarray(places), truth, np.arange(frames))
            print(f"{name:15} {base / took:6.2f} of decoding, {off}")


def error(places: np.ndarray, truth: ClipTrack, frame: np.ndarray) -> str:
    """rms over both axes after the constant offset between the points followed."""
    off = places - truth.head_px[frame]
    off = off[np.isfinite(off).all(axis=1)]
    off = off - np.median(off, axis=0)
    return f"{float(np.sqrt(np.mean(off**2))):.2f} px rms"


if __name__ == "__main__":
    main()
