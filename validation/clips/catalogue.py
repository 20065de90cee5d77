"""The clips by name: groups, and what each asks of the scene and of the file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from validation.clips.build import Clip
from validation.clips.draw import Recipe, scene_of
from validation.clips.encode import Encoding
from validation.clips.scene import Shutter
from validation.clips.sound import Sound

CLEAN = "clean 1080p240 exp 1/480"
SHADOWS = "120 frames/s exp 1/250 with shadows and shoes"
FILES = "encoders and containers"
TIMES = "rates and clocks"
SCENES = "harder scenes"
SOUND = "with sound"
BAD = "bad clips"
VIEWS = ("above", "front")

H264 = Encoding(mbit_s=45)
MOV = Encoding("libx265", "mov", mbit_s=30, ticks_hz=600)
MOV_10 = replace(MOV, bits=10)
VP9 = Encoding("libvpx-vp9", "webm", mbit_s=25, ticks_hz=1000)
AV1 = Encoding("libsvtav1", "mkv", mbit_s=20, ticks_hz=1000)
MJPEG = Encoding("mjpeg", "mkv", mbit_s=120, ticks_hz=1000)
CAPTURE_KEY = "com.android.capture.fps"


def catalogue() -> list[Clip]:
    """All clips, in the order of the tables; each has a seed of its own that follows from its place."""
    makers = (_clean, _shadows, _files, _times, _scenes, _sound, _bad)
    clips = []
    for first, maker in enumerate(makers):
        for k, (name, group, recipe, encoding, sound) in enumerate(maker()):
            scene = scene_of(recipe, 1000 * (first + 1) + k)
            conditions = {
                "head": scene.shape,
                "ground": scene.ground,
                "codec": encoding.codec,
                "container": encoding.ending,
                "bits": str(encoding.bits),
                "view": recipe.view,
                "rate": f"{recipe.shutter.rate_hz:g}",
            }
            clips.append(Clip(name, group, scene, encoding, sound, conditions))
    return clips


Row = tuple[str, str, Recipe, Encoding, Sound | None]


def _clean() -> Iterator[Row]:
    for k in range(24):
        view = VIEWS[k % 2]
        encoding = MOV if k % 8 in (4, 5) else H264
        yield f"clean-{view}-{k // 2 + 1:02d}", CLEAN, Recipe(view), encoding, None


def _shadows() -> Iterator[Row]:
    shutter = Shutter(120.0, 1 / 250)
    for k in range(16):
        view = VIEWS[k % 2]
        recipe = Recipe(view, shutter=shutter, shadows=True, shoes_near=True, noise_levels=(1.0, 2.5))
        yield f"shadows-{view}-{k // 2 + 1:02d}", SHADOWS, recipe, replace(H264, mbit_s=24), None


def _files() -> Iterator[Row]:
    encodings = {
        "h264-low-bitrate": replace(H264, mbit_s=14),
        "h264-b-frames": replace(H264, options={"bf": "2"}),
        "hevc": MOV,
        "hevc-10-bit": MOV_10,
        "vp9": VP9,
        "av1": AV1,
        "mjpeg": MJPEG,
        "h264-mkv": replace(H264, ending="mkv", ticks_hz=1000),
    }
    for k, (name, encoding) in enumerate(encodings.items()):
        view = VIEWS[k % 2]
        yield f"file-{name}-{view}", FILES, Recipe(view), encoding, None
    for degrees, name in ((90, "left"), (-90, "right"), (180, "over")):
        yield f"file-turned-{name}-above", FILES, Recipe("above"), replace(H264, turned_deg=degrees), None


def _times() -> Iterator[Row]:
    small = (1280, 720)
    for rate, exposure, size in (
        (30, 1 / 250, (1920, 1080)),
        (60, 1 / 500, (1920, 1080)),
        (480, 1 / 960, small),
        (960, 1 / 1920, small),
        (1000, 1 / 2000, (640, 360)),
    ):
        shutter = Shutter(float(rate), exposure)
        yield f"rate-{rate}-above", TIMES, Recipe(size_px=size, shutter=shutter), H264, None
    yield "size-720p240-front", TIMES, Recipe("front", size_px=small), replace(H264, mbit_s=20), None
    big = Recipe(size_px=(3840, 2160), shutter=Shutter(60.0, 1 / 500))
    yield "size-4k60-above", TIMES, big, replace(H264, mbit_s=60), None
    for k, (name, shutter) in enumerate(
        {
            "jitter": Shutter(jitter_share=0.08),
            "dropped": Shutter(dropped_share=0.04),
            "jitter-and-dropped-120": Shutter(120.0, 1 / 500, jitter_share=0.1, dropped_share=0.03),
        }.items()
    ):
        yield (
            f"vfr-{name}-{VIEWS[k % 2]}",
            TIMES,
            Recipe(VIEWS[k % 2], shutter=shutter),
            replace(H264, ending="mov", ticks_hz=600 if k == 2 else 90000),
            None,
        )
    slow = replace(H264, play_slower=8.0)
    named = replace(slow, metadata={CAPTURE_KEY: "240.000000"})
    yield "slow-motion-with-capture-rate-above", TIMES, Recipe("above"), named, None
    yield "slow-motion-with-capture-rate-front", TIMES, Recipe("front"), named, None
    yield "slow-motion-unsaid-above", TIMES, Recipe("above"), slow, None


def _scenes() -> Iterator[Row]:
    base = Recipe(noise_levels=(1.0, 2.0))
    kinds: dict[str, Recipe] = {
        "tremble": replace(base, tremble_px=0.6),
        "nudge": replace(base, nudge_px=4.0),
        "flicker-100": replace(base, flicker_hz=100.0),
        "flicker-120": replace(base, flicker_hz=120.0),
        "left-handed": replace(base, left_handed=True),
        "line-on-ball": replace(base, mark=1),
        "logo-on-ball": replace(base, mark=2),
        "like-the-ground": replace(base, coat="like the ground"),
        "shiny": replace(base, coat="shiny"),
        "sticker": replace(base, coat="sticker"),
        "rolling-shutter": replace(base, shutter=Shutter(readout_s=0.0038)),
        "distorted": replace(base, distortion=0.12),
        "waggle": replace(base, waggle=True),
        "rehearsal": replace(base, rehearsal=True, shutter=Shutter(120.0, 1 / 480)),
        "noisy": replace(base, noise_levels=(3.0, 4.0)),
        "sharp-shadows": replace(base, shadows=True, shoes_near=True),
    }
    once = {
        "nudge": "above",
        "flicker-120": "front",
        "sticker": "above",
        "rehearsal": "above",
        "waggle": "above",
        "logo-on-ball": "above",
        "distorted": "above",
        "noisy": "above",
        "sharp-shadows": "front",
    }
    for name, recipe in kinds.items():
        for view in (once[name],) if name in once else VIEWS:
            yield f"scene-{name}-{view}", SCENES, replace(recipe, view=view), H264, None


def _sound() -> Iterator[Row]:
    for k, offset_s in enumerate((0.0, 0.031, -0.022)):
        sound = Sound(offset_s=offset_s, other_click_s=(0.35,) if k == 1 else ())
        yield f"sound-{k + 1}-{VIEWS[k % 2]}", SOUND, Recipe(VIEWS[k % 2]), H264, sound


def _bad() -> Iterator[Row]:
    shutter = Shutter(120.0, 1 / 480)
    for name, recipe in {
        "no-ball": Recipe(no_ball=True, shutter=shutter),
        "no-stroke": Recipe(no_stroke=True, shutter=shutter),
        "still-picture": Recipe(still=True, no_ball=True, shutter=shutter),
        "two-balls": Recipe(second_ball=True, shutter=shutter),
    }.items():
        yield f"bad-{name}-above", BAD, recipe, H264, None
    yield "bad-two-balls-front", BAD, Recipe("front", second_ball=True, shutter=shutter), H264, None
