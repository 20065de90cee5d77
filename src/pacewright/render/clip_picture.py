"""What is drawn on the pictures of a clip: equal-time dots, phase, beats, contact and figures.

The colours and their second cues are those of the charts: going back is a blue ring, coming through an orange
disc. Dots stand where the head was, one every `DOT_STEP_S` of capture time counted from contact; where the
camera moves they move with the ground. See `docs/methods/annotated-clip.md`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from pacewright.core.clip import ClipTrack
from pacewright.core.display import Units, format_measure
from pacewright.core.recording import FloatArray
from pacewright.core.registry import MEASURES
from pacewright.core.stroke import Stroke
from pacewright.render import look

DOT_STEP_S = 0.02
LARGE_DOT_EVERY = 5
"""As in the chart of equal-time dots."""
PANEL_OPACITY = 235
LONGEST_GAP_S = 0.02
"""No dot is drawn where the head was not seen for longer around it."""

Phase = Literal["address", "backswing", "downswing", "follow-through", "finish"]
_FIGURES = (
    ("backswing_time_s", "top"),
    ("downswing_time_s", "impact"),
    ("time_ratio", "impact"),
    ("impact_speed_m_s", "impact"),
    ("ball_speed_m_s", "impact"),
)
"""Measures shown, and the event from which on each is known."""


@dataclass(frozen=True, slots=True)
class Notes:
    """What is written besides: the player's name (empty for none), beats a minute (None for none), how many
    times slower than life the film runs, and units.
    """

    name: str = ""
    beats_per_minute: float | None = None
    slow: float = 1.0
    units: Units = "metric"


@dataclass(frozen=True, slots=True)
class Dot:
    """A dot of the path: when, where in the first picture, which way, how large."""

    time_s: float
    place_px: tuple[float, float]
    way: Literal["back", "through", "ball"]
    large: bool


class StrokeOverlay:
    """Draws one stroke onto pictures of the clip that it was found in.

    ``size_px`` is the size of the pictures drawn on; the track may be of larger ones.
    """

    def __init__(self, track: ClipTrack, stroke: Stroke, notes: Notes, size_px: tuple[int, int]) -> None:
        self._track, self._stroke, self._notes, self._size = track, stroke, notes, size_px
        self._shrink = size_px[0] / track.picture_size_px[0]
        self._em = em_px(size_px)
        self._times = {name: event.value for name, event in stroke.events.items()}
        self._dots = path_dots(track, self._times)
        self._beats = beat_times_s(self._times, notes.beats_per_minute)
        self._corner = self._free_corner()

    def draw(self, picture: Image.Image, time_s: float, *, is_contact: bool = False) -> None:
        """Draw what holds at ``time_s`` of the recording; ``is_contact`` marks that frame."""
        self._draw_dots(picture, time_s)
        self._draw_contact(picture, time_s, is_contact)
        self._place(picture, self._figures(time_s), self._corner, "top")
        self._place(picture, self._timeline(time_s), "left", "bottom")

    def _here(self, place_px: tuple[float, float], time_s: float) -> tuple[float, float]:
        """A place of the first picture in the picture of ``time_s``, in pixels of the film."""
        moved = camera_at(self._track, time_s)
        x, y = ((place_px[k] + moved[k] + 0.5) * self._shrink - 0.5 for k in (0, 1))
        return x, y

    def _draw_dots(self, picture: Image.Image, time_s: float) -> None:
        for dot in self._dots:
            if dot.time_s > time_s:
                continue
            radius = self._em * (0.26 if dot.large else 0.17)
            stamp = dot_stamp(dot.way, round(radius, 1))
            x, y = self._here(dot.place_px, time_s)
            picture.paste(stamp, (round(x - stamp.width / 2 + 0.5), round(y - stamp.height / 2 + 0.5)), stamp)

    def _draw_contact(self, picture: Image.Image, time_s: float, is_contact: bool) -> None:
        contact_s = self._times.get("impact")
        if contact_s is None or (time_s < contact_s and not is_contact):
            return
        place = place_at(self._track, contact_s)
        if place is not None:
            label = _label("contact" if self._stroke.kind == "putt" else "passes address", self._em)
            x, y = self._here(place, time_s)
            above = y - 3.2 * self._em - label.height > 0.0
            edge = y - 3.2 * self._em if above else y + 3.2 * self._em
            draw = ImageDraw.Draw(picture)
            width = max(1, self._em // 12)
            for colour, thickness in ((look.PAPER, 3 * width), (look.INK, width)):
                draw.line([(x, edge), (x, y + (-0.5 if above else 0.5) * self._em)], colour, thickness)
            left = round(min(max(x - label.width / 2, 0), picture.width - label.width))
            picture.paste(label, (left, round(edge - label.height if above else edge)), label)
        if is_contact:
            frame = ImageDraw.Draw(picture)
            frame.rectangle((0, 0, picture.width - 1, picture.height - 1), None, look.PAPER, self._em // 2)
            inner = self._em // 2
            frame.rectangle(
                (inner, inner, picture.width - 1 - inner, picture.height - 1 - inner),
                None, look.INK, max(1, self._em // 12),
            )  # fmt: skip

    def _place(self, picture: Image.Image, panel: Image.Image | None, side: str, edge: str) -> None:
        if panel is None:
            return
        margin = self._em
        x = margin if side == "left" else picture.width - margin - panel.width
        y = margin if edge == "top" else picture.height - margin - panel.height
        picture.paste(panel, (x, y), panel)

    def _figures(self, time_s: float) -> Image.Image | None:
        """The panel of figures that are known by now; None before the first."""
        rows = []
        for name, event in _FIGURES:
            measure = self._stroke.measures.get(name)
            if measure is not None and measure.is_known and self._times.get(event, math.inf) <= time_s:
                rows.append((MEASURES[name].label, str(format_measure(name, measure, self._notes.units))))
        return _figures_panel(self._notes.name, tuple(rows), self._em) if rows or self._notes.name else None

    def _free_corner(self) -> str:
        """The upper corner in which fewer dots lie."""
        half = 0.5 * self._track.picture_size_px[0]
        low = 0.45 * self._track.picture_size_px[1]
        high_dots = [dot.place_px[0] for dot in self._dots if dot.place_px[1] < low]
        left = sum(x < half for x in high_dots)
        return "left" if left <= len(high_dots) - left else "right"

    def _timeline(self, time_s: float) -> Image.Image:
        phase = phase_at(self._times, time_s)
        beat = max((k for k, at in enumerate(self._beats, 1) if at <= time_s), default=0)
        ends = [self._times.get(name, math.nan) for name in ("takeaway", "top", "impact", "finish")]
        slow = f"{self._notes.slow:g}× slower" if self._notes.slow > 1.0 else ""
        # The panel without its hand is the same for many frames.
        panel, bar = _timeline_panel(
            phase, tuple(ends), self._beats, beat, slow, self._em, self._size[0] - 2 * self._em
        )
        panel = panel.copy()
        left, right, top, bottom, low, high = bar
        if high > low:
            x = left + (right - left) * min(max((time_s - low) / (high - low), 0.0), 1.0)
            stamp = dot_stamp("ball", round(0.42 * self._em, 1))
            at = (round(x - stamp.width / 2), round((top + bottom - stamp.height) / 2))
            panel.alpha_composite(stamp, at)
        return panel


def em_px(size_px: tuple[int, int]) -> int:
    """Height of letters on a picture: legible on a telephone, at 480 rows as at 1080."""
    return max(15, round(0.032 * min(size_px)))


def phase_at(times_s: dict[str, float], time_s: float) -> Phase:
    """The phase of a stroke with these events at a time; an event that was not seen begins no phase."""
    phase: Phase = "address"
    starts: tuple[tuple[str, Phase], ...] = (
        ("takeaway", "backswing"), ("top", "downswing"), ("impact", "follow-through"), ("finish", "finish"),
    )  # fmt: skip
    for event, begun in starts:
        if times_s.get(event, math.inf) <= time_s:
            phase = begun
    return phase


def beat_times_s(times_s: dict[str, float], beats_per_minute: float | None) -> tuple[float, ...]:
    """Start, back and through, the second beat at the top as in the charts; none without beats or top."""
    if beats_per_minute is None or "top" not in times_s:
        return ()
    beat_s = 60.0 / beats_per_minute
    return tuple(times_s["top"] + k * beat_s for k in (-1, 0, 1))


def path_dots(track: ClipTrack, times_s: dict[str, float]) -> list[Dot]:
    """Dots of the head from takeaway to finish, and of the ball after contact, in order of time."""
    start, end = times_s.get("takeaway", math.nan), times_s.get("finish", math.inf)
    contact = times_s.get("impact", times_s.get("top", math.nan))
    if not (math.isfinite(start) and math.isfinite(contact)):
        return []
    end = min(end, float(track.time_s[-1]))
    top = times_s.get("top", contact)
    dots = []
    for count in range(
        math.ceil((start - contact) / DOT_STEP_S), math.floor((end - contact) / DOT_STEP_S) + 1
    ):
        at, large = contact + count * DOT_STEP_S, count % LARGE_DOT_EVERY == 0
        head = place_at(track, at)
        if head is not None:
            dots.append(Dot(at, head, "back" if at < top else "through", large))
        ball = place_at(track, at, of_ball=True) if count > 0 and "impact" in times_s else None
        if ball is not None:
            dots.append(Dot(at, ball, "ball", large))
    return dots


def place_at(track: ClipTrack, time_s: float, *, of_ball: bool = False) -> tuple[float, float] | None:
    """Place of the head (or ball) between frames, the camera's movement off; None where it was not seen."""
    places = (track.ball_px if of_ball else track.head_px) - track.camera_px
    seen = np.isfinite(places).all(axis=1)
    times = track.time_s[seen]
    after = int(np.searchsorted(times, time_s))
    if times.size == 0 or (after == times.size and time_s > times[-1]) or (after == 0 and time_s < times[0]):
        return None
    after = min(max(after, 1), times.size - 1)
    if times.size > 1 and times[after] - times[after - 1] > LONGEST_GAP_S + usual_step_s(track):
        return None
    x, y = (float(np.interp(time_s, times, places[seen, k])) for k in (0, 1))
    return x, y


def camera_at(track: ClipTrack, time_s: float) -> FloatArray:
    """How far the picture has moved by then (2,), between frames; nothing where that is not known."""
    known = np.isfinite(track.camera_px).all(axis=1)
    if not known.any():
        return np.zeros(2)
    return np.array([np.interp(time_s, track.time_s[known], track.camera_px[known, k]) for k in (0, 1)])


def usual_step_s(track: ClipTrack) -> float:
    """Usual time between frames of the track."""
    return float(np.median(np.diff(track.time_s))) if track.time_s.size > 1 else 0.0


@lru_cache(maxsize=32)
def dot_stamp(way: Literal["back", "through", "ball"], radius_px: float) -> Image.Image:
    """A ring (back), a disc (through) or a white ring with ink (ball), with an edge of paper, smooth."""
    finer = 4
    size = 2 * math.ceil(radius_px + 3)
    stamp = Image.new("RGBA", (size * finer, size * finer), (0, 0, 0, 0))
    draw = ImageDraw.Draw(stamp)
    middle = size * finer / 2

    def disc(radius: float, colour: str) -> None:
        r = radius * finer
        draw.ellipse((middle - r, middle - r, middle + r, middle + r), fill=colour)

    edge = max(1.0, 0.22 * radius_px)
    colour = {"back": look.BACK, "through": look.THROUGH, "ball": look.INK}[way]
    disc(radius_px + edge, look.PAPER)
    disc(radius_px, colour)
    if way != "through":
        disc(0.52 * radius_px if way == "back" else 0.75 * radius_px, look.PAPER)
    return stamp.resize((size, size), Image.Resampling.BOX)


@lru_cache(maxsize=16)
def font(size_px: int, *, bold: bool = False) -> ImageFont.FreeTypeFont:
    """The bundled sans serif."""
    return ImageFont.truetype(
        str(look.font_folder() / f"IBMPlexSans-{'Bold' if bold else 'Regular'}.ttf"), size_px
    )


def paper(width: int, height: int) -> Image.Image:
    """A label box: a piece of paper, a little see-through, with a rule around."""
    red, green, blue = (int(look.PAPER[k : k + 2], 16) for k in (1, 3, 5))
    panel = Image.new("RGBA", (width, height), (red, green, blue, PANEL_OPACITY))
    ImageDraw.Draw(panel).rectangle((0, 0, width - 1, height - 1), None, look.RULE)
    return panel


@lru_cache(maxsize=16)
def _label(text: str, em: int) -> Image.Image:
    face = font(em, bold=True)
    panel = paper(round(face.getlength(text) + em), round(1.6 * em))
    ImageDraw.Draw(panel).text((panel.width / 2, panel.height / 2), text, look.INK, face, anchor="mm")
    return panel


@lru_cache(maxsize=16)
def _figures_panel(name: str, rows: tuple[tuple[str, str], ...], em: int) -> Image.Image:
    """Name above, then labels to the left and figures to the right."""
    plain, bold = font(em), font(em, bold=True)
    labels = max((plain.getlength(label) for label, _ in rows), default=0.0)
    figures = max((bold.getlength(figure) for _, figure in rows), default=0.0)
    gap = em if rows else 0
    width = max(labels + gap + figures, bold.getlength(name) if name else 0.0) + 1.4 * em
    lines = len(rows) + bool(name)
    panel = paper(round(width), round(1.35 * em * lines + 0.8 * em))
    draw = ImageDraw.Draw(panel)
    y = 0.4 * em + 0.675 * em
    if name:
        draw.text((0.7 * em, y), name, look.INK, bold, anchor="lm")
        y += 1.35 * em
    for label, figure in rows:
        draw.text((0.7 * em, y), label, look.SOFT_INK, plain, anchor="lm")
        draw.text((panel.width - 0.7 * em, y), figure, look.INK, bold, anchor="rm")
        y += 1.35 * em
    return panel


_Bar = tuple[float, float, float, float, float, float]
"""Left, right, top and bottom of the bar in the panel, and the times at its ends."""


@lru_cache(maxsize=32)
def _timeline_panel(
    phase: Phase,
    ends_s: tuple[float, ...],
    beats_s: tuple[float, ...],
    beat: int,
    slow: str,
    em: int,
    width: int,
) -> tuple[Image.Image, _Bar]:
    """The word of the phase and a bar from takeaway to finish with its parts, contact and beats."""
    bold, small = font(em, bold=True), font(max(11, round(0.8 * em)))
    panel = paper(width, round((3.3 if beats_s else 2.4) * em))
    draw = ImageDraw.Draw(panel)
    middle = 1.2 * em
    colour = {"backswing": look.BACK, "downswing": look.THROUGH, "follow-through": look.THROUGH}
    draw.text((0.7 * em, middle), phase, colour.get(phase, look.INK), bold, anchor="lm")
    left = 0.7 * em + bold.getlength("follow-through") + em
    right = width - 0.9 * em - (small.getlength(slow) + em if slow else 0.0)
    if slow:
        draw.text((width - 0.7 * em, middle), slow, look.SOFT_INK, small, anchor="rm")
    known = [time for time in (*ends_s, *beats_s) if math.isfinite(time)]
    if not known:
        return panel, (left, right, 0.0, 0.0, 0.0, 0.0)
    low, high = min(known), max(known)
    top, bottom = middle - 0.4 * em, middle + 0.4 * em

    def x_of(time_s: float) -> float:
        return left + (right - left) * (time_s - low) / (high - low if high > low else 1.0)

    takeaway, turn, contact, finish = ends_s
    line = max(1, em // 10)
    if math.isfinite(takeaway) and math.isfinite(turn):
        draw.rectangle((x_of(takeaway), top, x_of(turn), bottom), None, look.BACK, line)
    if math.isfinite(turn) and math.isfinite(contact):
        draw.rectangle((x_of(turn), top, x_of(contact), bottom), look.THROUGH)
    if math.isfinite(contact) and math.isfinite(finish):
        draw.rectangle((x_of(contact), middle - 0.2 * em, x_of(finish), middle + 0.2 * em), look.THROUGH)
    if math.isfinite(contact):
        draw.line([(x_of(contact), top - 0.35 * em), (x_of(contact), bottom + 0.35 * em)], look.INK, 2 * line)
    for k, at in enumerate(beats_s, 1):
        _beat_mark(draw, x_of(at), bottom + 0.2 * em, k, em, reached=k <= beat)
    return panel, (left, right, top, bottom, low, high)


def _beat_mark(draw: ImageDraw.ImageDraw, x: float, y: float, number: int, em: int, *, reached: bool) -> None:
    """A numbered tick below the bar; filled once the beat is reached."""
    face = font(max(11, round(0.8 * em)), bold=True)
    draw.line([(x, y), (x, y + 0.35 * em)], look.INK, max(1, em // 10))
    middle, radius = y + 0.35 * em + 0.55 * em, 0.55 * em
    draw.ellipse(
        (x - radius, middle - radius, x + radius, middle + radius),
        look.INK if reached else look.PAPER,
        look.INK,
    )
    draw.text((x, middle), str(number), look.PAPER if reached else look.INK, face, anchor="mm")
