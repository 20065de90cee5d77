"""Strobe picture: the head at many instants on one picture, going back above, coming through below.

The ground is the median of pictures across the stroke; where the ball lay, it is taken for coming through
from pictures in which ball and head are gone from there. Of each instant, only what differs from the ground
near the head is laid on it; where instants overlap, the one that differs most is kept.
"""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter

from pacewright.core.clip import ClipTrack
from pacewright.core.display import format_measure
from pacewright.core.recording import FloatArray
from pacewright.core.registry import MEASURES
from pacewright.core.stroke import Stroke
from pacewright.render import look
from pacewright.render.clip_picture import Notes, camera_at, dot_stamp, em_px, font, place_at

RGB = NDArray[np.uint8]
Way = Literal["back", "through"]

GROUND_PICTURES, GONE_PICTURES = 15, 5
_GONE_RADII, _PATCH_RADII = 4.0, 2.4
"""How far head and ball must be from where the ball lay, and how far around it the ground is mended."""
_REACH_BALLS = 3.2
"""How far from the head's place it is looked for, in diameters of the ball: 14 cm."""
_LEAST_LEVELS = 14.0
_SOFT_LEVELS = 12.0
_STEPS_S = (0.1, 0.2, 0.5)
_MOST_INSTANTS = 14
_FIGURES = ("time_ratio", "impact_speed_m_s", "ball_speed_m_s")


@dataclass(frozen=True, slots=True)
class StrobePlan:
    """Instants at equal times, by way; times of pictures for the ground, and of those without the ball."""

    step_s: float
    instants_s: dict[Way, tuple[float, ...]]
    ground_s: tuple[float, ...]
    gone_s: tuple[float, ...]

    @property
    def times_s(self) -> tuple[float, ...]:
        """All times at which a picture is wanted, in order."""
        parts = (self.ground_s, self.gone_s, *self.instants_s.values())
        return tuple(sorted({time for times in parts for time in times}))


def plan_strobe(track: ClipTrack, stroke: Stroke) -> StrobePlan | None:
    """The instants of a stroke; None when its takeaway, top or contact was not seen."""
    times = {name: event.value for name, event in stroke.events.items()}
    if not {"takeaway", "top", "impact"} <= times.keys():
        return None
    end = min(times.get("finish", math.inf), float(track.time_s[-1]))
    spans: dict[Way, tuple[float, float, float]] = {
        "back": (times["takeaway"], times["top"], times["top"]),
        "through": (times["top"], end, times["impact"]),
    }
    # One step for both ways, so that their spacings can be compared.
    step = _step(max(high - low for low, high, _ in spans.values()))
    instants = {way: _instants(low, high, fixed, step) for way, (low, high, fixed) in spans.items()}
    ground = np.linspace(times["takeaway"], end, GROUND_PICTURES)
    gone = _gone_times(track, times["impact"])
    return StrobePlan(step, instants, tuple(float(time) for time in ground), gone)


def _gone_times(track: ClipTrack, contact_s: float) -> tuple[float, ...]:
    """Times after contact at which head and ball are away from where the ball lay, at most a few."""
    rest = place_at(track, contact_s, of_ball=True)
    if rest is None:
        return ()

    def is_away(time_s: float, of_ball: bool) -> bool:
        place = place_at(track, time_s, of_ball=of_ball)
        far = _GONE_RADII * track.ball_radius_px
        return of_ball if place is None else math.dist(place, rest) > far

    later = [
        float(time)
        for time in track.time_s[track.time_s > contact_s]
        if is_away(time, of_ball=True) and is_away(time, of_ball=False)
    ]
    return tuple(later[:: max(1, len(later) // GONE_PICTURES)][:GONE_PICTURES])


def _step(span_s: float) -> float:
    """The shortest of the round steps with which not too many instants fall into the span."""
    return next((step for step in _STEPS_S if span_s / step <= _MOST_INSTANTS), _STEPS_S[-1])


def _instants(low: float, high: float, fixed: float, step: float) -> tuple[float, ...]:
    """Times from low to high at whole steps from a fixed one."""
    first, last = math.ceil((low - fixed) / step - 1e-9), math.floor((high - fixed) / step + 1e-9)
    return tuple(fixed + k * step for k in range(first, last + 1))


@dataclass(slots=True)
class _Cut:
    time_s: float
    left: int
    top: int
    picture: RGB


@dataclass(slots=True)
class Strobe:
    """Takes the pictures of a plan one by one, keeps what is needed of each, and makes the strobe picture."""

    track: ClipTrack
    stroke: Stroke
    plan: StrobePlan
    notes: Notes
    size_px: tuple[int, int]
    _ground: list[RGB] = field(default_factory=list)
    _gone: list[RGB] = field(default_factory=list)
    _cuts: dict[Way, list[_Cut]] = field(default_factory=lambda: {"back": [], "through": []})

    @property
    def _shrink(self) -> float:
        return self.size_px[0] / self.track.picture_size_px[0]

    def add(self, wanted_s: Sequence[float], picture: RGB) -> None:
        """Add the picture nearest to some wanted times."""
        for time_s in wanted_s:
            left, top, right, bottom = self._view
            steady = _steadied(picture, camera_at(self.track, time_s) * self._shrink)[top:bottom, left:right]
            if time_s in self.plan.ground_s:
                self._ground.append(steady)
            if time_s in self.plan.gone_s:
                self._gone.append(steady)
            for way, instants in self.plan.instants_s.items():
                if time_s in instants and (place := self._place(time_s)) is not None:
                    self._cuts[way].append(self._cut(time_s, place, steady))

    def png(self) -> bytes:
        """The strobe picture as PNG."""
        ways: tuple[Way, ...] = ("back", "through")
        sheet = self._sheet([self._panel(way, self._laid(way, self._still(way))) for way in ways])
        out = io.BytesIO()
        sheet.save(out, "PNG")
        return out.getvalue()

    def _still(self, way: Way) -> RGB:
        """The ground of a way."""
        ground = _median(self._ground)
        contact_s = self.stroke.events["impact"].value
        rest = _scaled_place(self.track, contact_s, self._shrink, of_ball=True)
        if way == "back" or rest is None or len(self._gone) < 3:
            return ground
        y, x = np.mgrid[: ground.shape[0], : ground.shape[1]]
        away = np.hypot(x - (rest[0] - self._view[0]), y - (rest[1] - self._view[1]))
        reach = _PATCH_RADII * self.track.ball_radius_px * self._shrink
        share = np.clip((reach - away) / (0.2 * reach), 0.0, 1.0)[..., None]
        mended: RGB = (ground + share * (_median(self._gone).astype(np.float32) - ground)).astype(np.uint8)
        return mended

    def _place(self, time_s: float) -> tuple[float, float] | None:
        """Where the head is in the view."""
        place, corner = _scaled_place(self.track, time_s, self._shrink), self._view[:2]
        return None if place is None else (place[0] - corner[0], place[1] - corner[1])

    @property
    def _view(self) -> tuple[int, int, int, int]:
        """What of the picture is shown: the whole path with room around. Left, top, right, bottom."""
        places = np.array([
            place for times in self.plan.instants_s.values() for time in times
            if (place := _scaled_place(self.track, time, self._shrink)) is not None
        ])  # fmt: skip
        reach = self._reach_px
        (left, top), (right, bottom) = places.min(axis=0) - reach, places.max(axis=0) + reach
        width, height = self.size_px
        return max(int(left), 0), max(int(top), 0), min(int(right) + 1, width), min(int(bottom) + 1, height)

    @property
    def _reach_px(self) -> float:
        return 2.0 * _REACH_BALLS * self.track.ball_radius_px * self._shrink

    def _cut(self, time_s: float, place: tuple[float, float], picture: RGB) -> _Cut:
        reach = self._reach_px
        left, top = (max(int(at - reach), 0) for at in place)
        right, bottom = (int(at + reach) + 1 for at in place)
        return _Cut(time_s, left, top, picture[top:bottom, left:right].copy())

    def _laid(self, way: Way, ground: RGB) -> RGB:
        """All instants of one way on the ground."""
        out = ground.astype(np.float32)
        most = np.zeros(ground.shape[:2], dtype=np.float32)
        for cut in self._cuts[way]:
            height, width = cut.picture.shape[:2]
            rows, columns = slice(cut.top, cut.top + height), slice(cut.left, cut.left + width)
            under = ground[rows, columns]
            differs = _difference(cut.picture, under) * self._near(cut)
            wins = differs > most[rows, columns]
            share = np.clip((differs - _LEAST_LEVELS) / _SOFT_LEVELS, 0.0, 1.0)[..., None]
            laid = under + share * (cut.picture.astype(np.float32) - under)
            out[rows, columns][wins] = laid[wins]
            most[rows, columns] = np.maximum(most[rows, columns], differs)
        return out.astype(np.uint8)

    def _near(self, cut: _Cut) -> NDArray[np.float32]:
        """One near the head's place, falling to zero at the reach."""
        place = self._place(cut.time_s)
        assert place is not None
        height, width = cut.picture.shape[:2]
        y, x = np.mgrid[cut.top : cut.top + height, cut.left : cut.left + width]
        away = np.hypot(x - place[0], y - place[1]) / self._reach_px
        near: NDArray[np.float32] = np.clip(4.0 * (1.0 - away), 0.0, 1.0).astype(np.float32)
        return near

    def _panel(self, way: Way, picture: RGB) -> Image.Image:
        """One way, with its dots and its name."""
        panel = Image.fromarray(np.ascontiguousarray(picture))
        em = self._em
        for time_s in self.plan.instants_s[way]:
            place = self._place(time_s)
            if place is not None:
                stamp = dot_stamp(way, round(0.2 * em, 1))
                x, y = (round(at - stamp.width / 2 + 0.5) for at in place)
                panel.paste(stamp, (x, y), stamp)
        return panel

    @property
    def _em(self) -> int:
        return em_px(self.size_px)

    def _sheet(self, panels: Sequence[Image.Image]) -> Image.Image:
        """Both ways on paper, each with its title, and the figures below."""
        em = self._em
        bold, plain = font(em, bold=True), font(em)
        title_px, margin = round(2.2 * em), em
        figures = self._figures()
        least = max((plain.getlength(line) for line in figures), default=0.0)
        width = max(max(panel.width for panel in panels), round(least), 24 * em) + 2 * margin
        foot = round(1.5 * em * len(figures) + 0.8 * em) if figures else margin
        height = sum(panel.height + title_px for panel in panels) + foot
        head = round(2.0 * em) if self.notes.name else 0
        sheet = Image.new("RGB", (width, height + head), look.PAPER)
        draw = ImageDraw.Draw(sheet)
        if self.notes.name:
            draw.text(
                (margin, head * 0.65), self.notes.name, look.INK, font(round(1.2 * em), bold=True), "lm"
            )
        y = head
        words: tuple[tuple[Way, str, str], ...] = (
            ("back", "going back", look.BACK),
            ("through", "coming through", look.THROUGH),
        )
        for panel, (way, word, colour) in zip(panels, words, strict=True):
            stamp = dot_stamp(way, round(0.3 * em, 1))
            sheet.paste(stamp, (margin, round(y + title_px / 2 - stamp.height / 2)), stamp)
            x = margin + stamp.width + 0.5 * em
            draw.text((x, y + title_px / 2), word, colour, bold, anchor="lm")
            x += bold.getlength(word) + 0.7 * em
            draw.text((x, y + title_px / 2), f"every {self.plan.step_s:g} s", look.SOFT_INK, plain, "lm")
            sheet.paste(panel, ((width - panel.width) // 2, y + title_px))
            y += title_px + panel.height
        for k, line in enumerate(figures):
            draw.text((margin, y + 0.4 * em + 1.5 * em * (k + 0.5)), line, look.INK, plain, anchor="lm")
        return sheet

    def _figures(self) -> list[str]:
        return [
            f"{MEASURES[name].label}  {format_measure(name, measure, self.notes.units)}"
            for name in _FIGURES
            if (measure := self.stroke.measures.get(name)) is not None and measure.is_known
        ]


def _median(pictures: list[RGB]) -> RGB:
    """The middle one of each value; partitioning is many times quicker than a median of floats."""
    middle = len(pictures) // 2
    values: RGB = np.partition(np.array(pictures), middle, axis=0)[middle]
    return values


def _scaled_place(
    track: ClipTrack, time_s: float, shrink: float, *, of_ball: bool = False
) -> tuple[float, float] | None:
    """Where the head (or ball) is in a picture made smaller, the camera's movement off."""
    place = place_at(track, time_s, of_ball=of_ball)
    return None if place is None else ((place[0] + 0.5) * shrink - 0.5, (place[1] + 0.5) * shrink - 0.5)


def _difference(picture: RGB, ground: RGB) -> NDArray[np.float32]:
    """How much a picture differs from the ground, in levels: the most of three colours, smoothed a little."""
    levels = np.abs(picture.astype(np.int16) - ground).max(axis=2).astype(np.uint8)
    smooth = Image.fromarray(levels).filter(ImageFilter.GaussianBlur(1.2))
    return np.asarray(smooth, dtype=np.float32)


def _steadied(picture: RGB, moved_px: FloatArray) -> RGB:
    """The picture as the camera of the first frame would have seen it; what it did not see is black."""
    if not np.isfinite(moved_px).all() or float(np.abs(moved_px).max()) < 0.05:
        return picture
    image = Image.fromarray(picture)
    x, y = (float(move) for move in moved_px)
    return np.asarray(
        image.transform(image.size, Image.Transform.AFFINE, (1, 0, x, 0, 1, y), Image.Resampling.BILINEAR)
    )


def nearest_frames(track: ClipTrack, times_s: Sequence[float]) -> dict[int, list[float]]:
    """Frame number to the wanted times that it is nearest to."""
    wanted: dict[int, list[float]] = {}
    for time_s in times_s:
        frame = int(track.frame[int(np.abs(track.time_s - time_s).argmin())])
        wanted.setdefault(frame, []).append(time_s)
    return wanted
