"""A clip measured by the tool, set against its truth."""

from __future__ import annotations

import hashlib
import json
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from pacewright.app.assessment import Assessment, assess
from pacewright.core.clip import ClipTrack
from pacewright.core.errors import PacewrightError
from pacewright.core.stroke import Stroke
from validation.clips.build import Clip, build

CONTACT = "impact_time_s"
FIGURES = (
    CONTACT,
    "impact_speed_m_s",
    "time_ratio",
    "ball_speed_m_s",
    "impact_acceleration_m_s2",
    "backswing_length_m",
)
NEAR_S = 0.05
"""A stroke found is the true one when its contact lies this close."""
RENDERERS = (
    "build",
    "camera",
    "encode",
    "footprint",
    "ground",
    "heads",
    "hits",
    "motion",
    "picture",
    "player",
    "raycast",
    "sensor",
    "sound",
    "truth",
)


@dataclass
class Result:
    """What came of one clip. ``errors`` and ``sds`` by figure, relative for speeds; lengths in
    pixels for the head."""

    name: str
    group: str
    view: str
    expected: bool
    found: bool = False
    invented: int = 0
    said: str = ""
    errors: dict[str, float] = field(default_factory=dict)
    sds: dict[str, float] = field(default_factory=dict)
    head_rms_px: tuple[float, float] = (float("nan"), float("nan"))
    head_seen: float = float("nan")
    as_filmed: str = ""
    seconds: float = 0.0

    @property
    def beyond(self) -> list[str]:
        """Figures whose error exceeds four of their stated uncertainties (unstated ones count)."""
        return [name for name, error in self.errors.items() if not abs(error) <= 4 * self.sds[name]]


def rendered(clip: Clip, folder: Path) -> Path:
    """The clip's file, rendered unless this very clip was rendered before by this very code."""
    path = _place(clip, folder)
    if not is_rendered(clip, folder):
        path.parent.mkdir(parents=True, exist_ok=True)
        build(clip, path.parent)
    return path


def is_rendered(clip: Clip, folder: Path) -> bool:
    """Whether the clip lies there, whole."""
    path = _place(clip, folder)
    return path.exists() and path.with_suffix(".truth.json").exists()


def _place(clip: Clip, folder: Path) -> Path:
    """Where the clip's file lies, by its description and the code that renders it."""
    here = Path(__file__).parent
    code = b"".join((here / f"{name}.py").read_bytes() for name in RENDERERS)
    key = hashlib.sha256(code + repr(clip).encode()).hexdigest()[:16]
    return folder / key / clip.file_name


def score(clip: Clip, folder: Path) -> Result:
    """Render if needed, assess without any help, compare."""
    path = rendered(clip, folder)
    truth = json.loads(path.with_suffix(".truth.json").read_text())
    rows = dict(np.load(path.with_suffix(".truth.npz")))
    result = Result(clip.name, clip.group, truth["view"], truth["stroke"] and truth["ball"])
    start = time.perf_counter()
    try:
        assessment = assess([path])[0]
    except PacewrightError as error:
        result.said = str(error)
    except Exception as error:
        # A crash is a finding about the tool, and the other clips still count.
        result.said = f"CRASH {type(error).__name__}: {error}"
    else:
        _compare(result, assessment, truth, rows)
    result.seconds = time.perf_counter() - start
    return result


def _compare(result: Result, assessment: Assessment, truth: dict, rows: dict) -> None:  # type: ignore[type-arg]
    result.said = " ".join(remark.text for remark in assessment.remarks)
    track = assessment.recording.clip
    shift_s = _clock_shift_s(track, rows) if track is not None else 0.0
    contact_s = truth["contact_time_s"]
    putts = list(assessment.putts)
    near = [
        putt
        for putt in putts
        if contact_s is not None and abs(putt.events["impact"].value - shift_s - contact_s) < NEAR_S
    ]
    result.found = bool(near) and result.expected
    result.invented = len(putts) - len(near[:1] if result.expected else [])
    if not result.found:
        return
    _compare_stroke(result, near[0], truth, shift_s)
    if track is not None:
        wrong = [
            what
            for what, ours, theirs in (
                ("view", truth["view"], track.view),
                ("hand", truth["left_handed"], track.left_handed),
            )
            if ours != theirs
        ]
        result.as_filmed = " and ".join(wrong)
        result.head_rms_px, result.head_seen = head_rms_px(track, truth, rows)


def _compare_stroke(result: Result, stroke: Stroke, truth: dict, shift_s: float) -> None:  # type: ignore[type-arg]
    true = truth["measures"] | {"ball_speed_m_s": truth["ball_speed_m_s"], CONTACT: truth["contact_time_s"]}
    known = dict(stroke.measures) | {CONTACT: stroke.events["impact"]}
    for name in FIGURES:
        if name in known and known[name].is_known:
            measured = known[name].value - (shift_s if name == CONTACT else 0.0)
            scale = true[name] if name.endswith("speed_m_s") else 1.0
            result.errors[name] = (measured - true[name]) / scale
            result.sds[name] = known[name].sd / scale


def _clock_shift_s(track: ClipTrack, rows: dict) -> float:  # type: ignore[type-arg]
    """How far the recording's clock runs ahead of the file's, whose zero is the first picture."""
    return float(np.median(track.time_s - rows["file_time_s"][track.frame]))


def head_rms_px(track: ClipTrack, truth: dict, rows: dict) -> tuple[tuple[float, float], float]:  # type: ignore[type-arg]
    """Rms of the head's place along and across the line, from takeaway to finish, and the share of
    frames it is seen.

    The tool chooses its own point of the head. So one point fixed to the head is found first, by
    least squares
    (three numbers in the head's frame, carried through arc, turn and perspective), and taken away.
    """
    time_s = rows["file_time_s"][track.frame]
    during = (time_s >= truth["takeaway_time_s"]) & (time_s <= truth["finish_time_s"])
    seen = during & np.isfinite(track.head_px).all(axis=1)
    if seen.sum() < 10:
        return (float("nan"), float("nan")), 0.0
    frame = track.frame[seen]
    gap = track.head_px[seen] - rows["head_px"][frame]
    axes = np.moveaxis(rows["head_frame_px"][frame], 1, 2)
    offset = np.linalg.lstsq(axes.reshape(-1, 3), gap.ravel(), rcond=1e-3)[0]
    left = gap - axes @ offset
    line = rows["ball_px"][-1] - rows["ball_px"][0]
    line = line / np.linalg.norm(line)
    along, across = left @ line, left @ np.array([-line[1], line[0]])
    rms = float(np.sqrt(np.mean(along**2))), float(np.sqrt(np.mean(across**2)))
    return rms, float(seen.sum() / max(during.sum(), 1))
