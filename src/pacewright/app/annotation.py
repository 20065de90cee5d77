"""Use case: an annotated film of the strokes in a clip, and the strobe picture of one of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pacewright.app.assessment import Assessment, AssessOptions, Progress, assess
from pacewright.app.files import check_folder, whole_file, write_whole
from pacewright.core.clip import ClipTrack
from pacewright.core.display import Units
from pacewright.core.errors import QualityError, SettingsError
from pacewright.core.stroke import Stroke
from pacewright.render.beats import HIGHEST_BPM, LOWEST_BPM

BEFORE_S, AFTER_S = 1.0, 0.8
"""What is shown of a stroke before its takeaway and after its finish."""
HOLD_S = 1.5
"""The last picture of a stroke stands still for so long, to be read."""
LONGEST_PX = 1920
_MOST_SHOWN_HZ = 60.0
_SLOWEST = 100.0
_ASSESS_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class AnnotateOptions:
    """``slow`` times slower than life; the player's ``name`` is written only if given; beats a minute draw
    the beats; ``stroke`` (from 1) picks one stroke. Raises SettingsError for what makes no sense.
    """

    slow: float = 1.0
    name: str = ""
    beats_per_minute: float | None = None
    stroke: int | None = None
    units: Units = "metric"

    def __post_init__(self) -> None:
        if not 1.0 <= self.slow <= _SLOWEST:
            raise SettingsError(f"{self.slow:g} times slower makes no sense; use 1 to {_SLOWEST:g}.")
        if self.beats_per_minute is not None and not LOWEST_BPM <= self.beats_per_minute <= HIGHEST_BPM:
            raise SettingsError(
                f"{self.beats_per_minute:g} beats a minute is outside {LOWEST_BPM} to {HIGHEST_BPM}."
            )


def annotate(
    clip: str | Path,
    out: str | Path,
    assess_options: AssessOptions | None = None,
    options: AnnotateOptions | None = None,
    *,
    strobe: str | Path | None = None,
    progress: Progress | None = None,
) -> Assessment:
    """Assess a clip and write its annotated film (.mp4, .webm) or a strobe picture (.png), by the ending.

    ``strobe`` names a .png for a strobe picture besides. A strobe picture shows the first stroke, or the one
    that the options pick. Raises ReadError for a clip that cannot be read, QualityError when no stroke was
    seen in it, SettingsError for another ending. Each file is written whole or not at all.
    """
    from pacewright.render.film import film_format

    out, options = Path(out), options or AnnotateOptions()
    pictures = [out] if out.suffix.lower() == ".png" else []
    if not pictures:
        film_format(out)
    if strobe is not None:
        if Path(strobe).suffix.lower() != ".png":
            raise SettingsError(f"'{Path(strobe).name}' must end in .png.")
        pictures.append(Path(strobe))
    for path in (out, *pictures):
        check_folder(path)
    (assessment,) = assess([clip], assess_options, progress=_scaled(progress, 0.0, _ASSESS_SHARE))
    track, strokes = _seen(assessment, options)
    draw = _scaled(progress, _ASSESS_SHARE, 1.0)
    if out not in pictures:
        write_annotated(clip, out, track, strokes, options, progress=draw)
    for path in pictures:
        write_whole(path, strobe_png(clip, track, strokes[0], options, progress=draw))
    return assessment


def write_annotated(
    clip: str | Path,
    out: str | Path,
    track: ClipTrack,
    strokes: tuple[Stroke, ...],
    options: AnnotateOptions,
    *,
    progress: Progress | None = None,
) -> int:
    """Write the annotated film of strokes that were found in a clip; returns the number of its pictures.

    Sound is kept where the film runs as the file does, and left out where it is slowed.
    """
    from pacewright.render.film import film_format, write_film

    out = Path(out)
    form = film_format(out)
    pace = _Pace(track, options.slow)
    stretches = _stretches(strokes, pace)
    pictures = _film(Path(clip), track, stretches, pace, options, progress)
    with whole_file(out) as unfinished:
        return write_film(unfinished, form, pictures, pace.shown_hz, _sound(Path(clip), stretches, pace))


def strobe_png(
    clip: str | Path,
    track: ClipTrack,
    stroke: Stroke,
    options: AnnotateOptions,
    *,
    progress: Progress | None = None,
) -> bytes:
    """The strobe picture of a stroke that was found in a clip, as PNG."""
    from pacewright.render.clip_picture import Notes
    from pacewright.render.strobe import Strobe, nearest_frames, plan_strobe
    from pacewright.tracking.pictures import upright_rgb_frames

    plan = plan_strobe(track, stroke)
    if plan is None:
        raise QualityError("The stroke's takeaway, top or contact was not seen: there is no strobe picture.")
    wanted = nearest_frames(track, plan.times_s)
    first, last = min(wanted), max(wanted)
    strobe = None
    for index, _, picture in upright_rgb_frames(clip, first, last, only=wanted, longest_px=LONGEST_PX):
        if progress:
            progress((index - first) / (last - first + 1))
        if strobe is None:
            notes = Notes(name=options.name, units=options.units)
            strobe = Strobe(track, stroke, plan, notes, (picture.shape[1], picture.shape[0]))
        strobe.add(wanted[index], picture)
    if strobe is None:
        raise QualityError("The pictures of this stroke cannot be read any more.")
    return strobe.png()


def _seen(assessment: Assessment, options: AnnotateOptions) -> tuple[ClipTrack, tuple[Stroke, ...]]:
    """The track and the strokes to be shown."""
    track = assessment.recording.clip
    if track is None:
        raise SettingsError(f"'{assessment.source}' is not a clip; only a clip can be annotated.")
    if not assessment.strokes:
        remarks = " ".join(remark.text for remark in assessment.remarks)
        raise QualityError(f"There is no stroke to annotate. {remarks}")
    if options.stroke is None:
        return track, assessment.strokes
    if not 1 <= options.stroke <= len(assessment.strokes):
        raise SettingsError(f"There is no stroke {options.stroke}; the clip has {len(assessment.strokes)}.")
    return track, (assessment.strokes[options.stroke - 1],)


class _Pace:
    """How capture time, the file's time and the film's time go together."""

    def __init__(self, track: ClipTrack, slow: float) -> None:
        step_s = float(np.median(np.diff(track.time_s) / np.diff(track.frame)))
        self._track, self.slow, self.step_s = track, slow, step_s
        self.every = max(1, math.ceil(1.0 / (step_s * slow * _MOST_SHOWN_HZ) - 1e-6))
        self.shown_hz = 1.0 / (step_s * slow * self.every)
        self.file_s_per_s = track.play_rate_hz * step_s
        """Seconds of the file that one second of capture takes."""

    @property
    def keeps_sound(self) -> bool:
        return abs(self.slow / self.file_s_per_s - 1.0) < 0.02

    def time_s(self, frame: int) -> float:
        """Capture time of a frame, also of one that the track left out."""
        near = int(np.abs(self._track.frame - frame).argmin())
        return float(self._track.time_s[near]) + (frame - int(self._track.frame[near])) * self.step_s

    def frame(self, time_s: float) -> int:
        """The frame nearest to a capture time."""
        near = int(np.abs(self._track.time_s - time_s).argmin())
        away = round((time_s - float(self._track.time_s[near])) / self.step_s)
        return max(int(self._track.frame[near]) + away, 0)


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Frames that show one stroke, both included."""

    stroke: Stroke
    first: int
    last: int
    contact: int | None


def _stretches(strokes: tuple[Stroke, ...], pace: _Pace) -> list[_Stretch]:
    """One stretch a stroke, in order of time; none begins before the one before it has ended."""
    stretches, free = [], 0
    for stroke in sorted(strokes, key=lambda one: one.events["impact"].value):
        times = {name: event.value for name, event in stroke.events.items()}
        contact_s = times["impact"]
        start_s = min(times.get("takeaway", contact_s), contact_s) - BEFORE_S
        end_s = max(times.get("finish", contact_s), contact_s) + AFTER_S
        first = max(pace.frame(start_s), free)
        last = max(pace.frame(end_s), first)
        contact = first + pace.every * round((pace.frame(contact_s) - first) / pace.every)
        stretches.append(_Stretch(stroke, first, last, contact))
        free = last + 1
    return stretches


def _film(
    clip: Path,
    track: ClipTrack,
    stretches: list[_Stretch],
    pace: _Pace,
    options: AnnotateOptions,
    progress: Progress | None,
) -> Iterator[tuple[float, NDArray[np.uint8]]]:
    """Time in the film and picture, stretch by stretch; the last picture of each is held."""
    from PIL import Image

    from pacewright.render.clip_picture import Notes, StrokeOverlay
    from pacewright.tracking.pictures import upright_rgb_frames

    notes = Notes(options.name, options.beats_per_minute, options.slow, options.units)
    total, done, film_s = sum(s.last - s.first + 1 for s in stretches), 0, 0.0
    for stretch in stretches:
        overlay, start_s, drawn = None, pace.time_s(stretch.first), None
        frames = upright_rgb_frames(
            clip,
            stretch.first,
            stretch.last,
            only=range(stretch.first, stretch.last + 1, pace.every),
            longest_px=LONGEST_PX,
        )
        shown_s = film_s
        for index, _, rgb in frames:
            picture = Image.fromarray(rgb)
            overlay = overlay or StrokeOverlay(track, stretch.stroke, notes, picture.size)
            time_s = pace.time_s(index)
            overlay.draw(picture, time_s, is_contact=index == stretch.contact)
            drawn = np.asarray(picture)
            shown_s = film_s + (time_s - start_s) * options.slow
            yield shown_s, drawn
            if progress:
                progress((done + index - stretch.first) / total)
        done += stretch.last - stretch.first + 1
        if drawn is not None:
            for k in range(1, round(HOLD_S * pace.shown_hz) + 1):
                yield shown_s + k / pace.shown_hz, drawn
        film_s += _film_length_s(stretch, pace)


def _film_length_s(stretch: _Stretch, pace: _Pace) -> float:
    """How long a stretch takes in the film, with its last picture held."""
    span_s = pace.time_s(stretch.last) - pace.time_s(stretch.first)
    return span_s * pace.slow + HOLD_S + 1.0 / pace.shown_hz


def _sound(clip: Path, stretches: list[_Stretch], pace: _Pace) -> NDArray[np.float32] | None:
    """The sound of all stretches, silent while a picture is held; None where there is none to keep."""
    if not pace.keeps_sound:
        return None
    from pacewright.render.film import SOUND_RATE_HZ
    from pacewright.tracking.pictures import sound_between

    pieces = []
    for stretch in stretches:
        low, high = (pace.time_s(frame) * pace.file_s_per_s for frame in (stretch.first, stretch.last))
        sound = sound_between(clip, low, high)
        if sound is None:
            return None
        length = round(_film_length_s(stretch, pace) * SOUND_RATE_HZ)
        pieces.append(np.pad(sound[:, :length], ((0, 0), (0, max(length - sound.shape[1], 0)))))
    return np.concatenate(pieces, axis=1)


def _scaled(progress: Progress | None, low: float, high: float) -> Callable[[float], None] | None:
    """A part of a progress bar."""
    if progress is None:
        return None
    return lambda share: progress(low + (high - low) * share)
