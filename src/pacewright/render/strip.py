"""Marker strip: the practice station on paper at true scale, in tiles to be joined.

Everything along the strip is measured from the zero line, the back edge of the ball, where the face meets
it; a marker is where the face turns. Lengths here are millimetres on paper, x from the zero line towards
the hole, y downward from the top of the strip. See `docs/methods/marker-strip.md`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from pacewright.core.display import (
    Units,
    format_both,
    format_putt_length,
    format_putt_length_both,
)
from pacewright.core.equipment import BALL_DIAMETER_M
from pacewright.core.errors import SettingsError
from pacewright.core.station import PuttStation, Station
from pacewright.core.units import INCH_M
from pacewright.render.typeset import PAPER_NAMES, PAPER_SIZES_MM, Paper, typeset

Shape = dict[str, Any]
Orientation = Literal["portrait", "landscape"]

EDGE_MM = 10.0
"""Room that printers leave white."""
OVERLAP_MM = 15.0
CHECK_BAR_MM = 100.0
MARKER_WIDTH_MM = 1.0
_BALL_MM = 1000.0 * BALL_DIAMETER_M
_RULER_MM, _BALL_BAND_MM = 9.0, 48.0
_LANE_LOW_MM, _LANE_HIGH_MM = 21.0, 28.0
_ROOM_BAR_MM = 3.5
_HEAD_MM, _FOOT_MM = 17.0, 20.0
_PAD_MM = 8.0
_LABEL_MM = 36.0
_SEAM_CLEARANCE_MM = 12.0
_LONGEST_MM = 4000.0


@dataclass(frozen=True, slots=True)
class Tile:
    """One sheet: it shows the strip from ``left_mm`` to ``right_mm`` of the zero line."""

    number: int
    left_mm: float
    right_mm: float


@dataclass(frozen=True, slots=True)
class StripPlan:
    """How a station is laid on sheets: the same tiles for each group of putts that fits one strip."""

    paper: Paper
    orientation: Orientation
    tiles: tuple[Tile, ...]
    groups: tuple[tuple[PuttStation, ...], ...]
    lane_mm: float

    @property
    def page_count(self) -> int:
        """Sheets with a piece of the strip."""
        return len(self.tiles) * len(self.groups)

    @property
    def page_size_mm(self) -> tuple[float, float]:
        """Width and height of a sheet as it is printed."""
        return _page_size(self.paper, self.orientation)


def plan_strip(putts: Sequence[PuttStation], paper: Paper = "a4") -> StripPlan:
    """The plan with the fewest sheets; upright where both orientations need as many.

    Raises SettingsError when there is no putt or a marker stands absurdly far from the ball.
    """
    if not putts:
        raise SettingsError("A marker strip needs at least one putt.")
    left = max(_back_room(putt) for putt in putts)
    right = max(_through_room(putt) for putt in putts)
    if not left + right <= _LONGEST_MM:
        raise SettingsError(
            f"The strip would be {(left + right) / 1000:.1f} m long; use shorter putts or a quicker beat."
        )
    plans = [_plan(tuple(putts), left, right, paper, way) for way in ("portrait", "landscape")]
    return min(plans, key=lambda plan: plan.page_count)


def strip_pdf(station: Station, paper: Paper = "a4", *, green: str = "", units: Units = "metric") -> bytes:
    """The strip of a station as PDF: tiles, then a sheet that says how to join and use them."""
    plan = plan_strip(station.stations, paper)
    width, height = plan.page_size_mm
    sheets = [_sheet(plan, group, tile, units) for group in range(len(plan.groups)) for tile in plan.tiles]
    data = {
        "paper": PAPER_NAMES[paper],
        "flipped": plan.orientation == "landscape",
        "page": {"width": width, "height": height, "edge": EDGE_MM, "head": _HEAD_MM, "foot": _FOOT_MM},
        "check_bar": CHECK_BAR_MM,
        "beats": f"{station.beats_per_minute:g}",
        "green": green,
        "sheets": sheets,
        "tile_count": len(plan.tiles),
        "overlap": OVERLAP_MM,
        "table": [_table_row(putt, units) for putt in station.stations],
        "warnings": [
            *(remark.text for remark in station.warnings),
            *(
                f"{format_putt_length(putt.putt_length_m, units)}: {remark.text}"
                for putt in station.stations
                for remark in putt.warnings
            ),
        ],
    }
    return typeset("strip.typ", data)


def _page_size(paper: Paper, orientation: Orientation) -> tuple[float, float]:
    short, long = PAPER_SIZES_MM[paper]
    return (short, long) if orientation == "portrait" else (long, short)


def _back_room(putt: PuttStation) -> float:
    """Room that a putt needs behind the zero line."""
    marker, far = 1000.0 * putt.back_marker_m, 1000.0 * putt.back_marker_band_m[1]
    return max(far, marker + (0.0 if _label_inside(marker) else _LABEL_MM)) + _PAD_MM


def _through_room(putt: PuttStation) -> float:
    """Room that a putt needs beyond the zero line; the ball lies there in any case."""
    marker = 1000.0 * putt.through_marker_m
    return max(_BALL_MM, marker + (0.0 if _label_inside(marker) else _LABEL_MM)) + _PAD_MM


def _label_inside(marker_mm: float) -> bool:
    """Whether a marker's label fits between it and the zero line."""
    return marker_mm >= _LABEL_MM + 3.0


def _plan(
    putts: tuple[PuttStation, ...], left: float, right: float, paper: Paper, orientation: Orientation
) -> StripPlan:
    width, height = _page_size(paper, orientation)
    window = width - 2.0 * EDGE_MM
    count = max(1, math.ceil((left + right - OVERLAP_MM) / (window - OVERLAP_MM)))
    slack = count * window - (count - 1) * OVERLAP_MM - left - right
    step = window - OVERLAP_MM
    start = -left - _seam_shift(putts, slack, [-left + k * step for k in range(1, count)])
    tiles = tuple(Tile(k + 1, start + k * step, start + k * step + window) for k in range(count))
    room = height - 2.0 * EDGE_MM - _HEAD_MM - _FOOT_MM - 2.0 * _RULER_MM - _BALL_BAND_MM
    lanes = int(room // _LANE_LOW_MM)
    groups = tuple(putts[k : k + lanes] for k in range(0, len(putts), lanes))
    lane = min(_LANE_HIGH_MM, room / len(groups[0]))
    return StripPlan(paper, orientation, tiles, groups, lane)


def _seam_shift(putts: Sequence[PuttStation], slack: float, seams: Sequence[float]) -> float:
    """How far to move the tiles back, within their slack, so that markers stand clear of the seams.

    The middle of the slack is kept where it is clear enough.
    """
    places = [1000.0 * place for p in putts for place in (-p.back_marker_m, 0.0, p.through_marker_m)]

    def merit(shift: float) -> tuple[float, float]:
        clear = min((abs(place - seam + shift) for place in places for seam in seams), default=math.inf)
        return min(clear, _SEAM_CLEARANCE_MM), -abs(shift - 0.5 * slack)

    return max((slack * k / 100.0 for k in range(101)), key=merit)


def _sheet(plan: StripPlan, group: int, tile: Tile, units: Units) -> Shape:
    putts = plan.groups[group]
    height = 2.0 * _RULER_MM + _BALL_BAND_MM + len(putts) * plan.lane_mm
    named = f"strip {group + 1} of {len(plan.groups)}, " if len(plan.groups) > 1 else ""
    return {
        "name": f"{named}tile {tile.number} of {len(plan.tiles)}",
        "left": tile.left_mm,
        "width": tile.right_mm - tile.left_mm,
        "height": height,
        "shapes": _strip_shapes(plan, putts, tile, height, units),
        "joints": _joint_shapes(plan, tile, height),
    }


def _strip_shapes(
    plan: StripPlan, putts: Sequence[PuttStation], tile: Tile, height: float, units: Units
) -> list[Shape]:
    """The strip as one long drawing; only what may reach into the tile is kept."""
    shapes = [*_way_shapes(tile), *_ball_shapes(), *_ruler_shapes(tile, height)]
    for lane, putt in enumerate(putts):
        top = _RULER_MM + _BALL_BAND_MM + lane * plan.lane_mm
        shapes += _lane_shapes(putt, top, plan.lane_mm, tile, units)
    shapes.append(_line(0.0, 0.0, 0.0, height, "ink", 0.5))
    reach = _LABEL_MM + 30.0
    return [
        shape
        for shape in shapes
        if shape["x"] + shape.get("w", 0.0) + reach >= tile.left_mm and shape["x"] - reach <= tile.right_mm
    ]


def _way_shapes(tile: Tile) -> list[Shape]:
    """Large words that say which way a tile without the ball lies."""
    middle = 0.5 * (tile.left_mm + tile.right_mm)
    if tile.left_mm < 10.0 and tile.right_mm > -10.0:
        return []
    word, colour = ("← back", "back") if middle < 0 else ("through →", "through")
    return [_text(middle, _RULER_MM + 0.5 * _BALL_BAND_MM, "center", word, 30.0, colour, bold=True)]


def _lane_shapes(putt: PuttStation, top: float, lane: float, tile: Tile, units: Units) -> list[Shape]:
    """A putt's lane: band of the back marker, both markers with what they are, and a line between."""
    back, through = -1000.0 * putt.back_marker_m, 1000.0 * putt.through_marker_m
    far, near = (-1000.0 * putt.back_marker_band_m[k] for k in (1, 0))
    inset, middle = 2.0, top + 0.5 * lane - 1.8
    tall = lane - 2.0 * inset
    shapes = [
        _line(tile.left_mm, top, tile.right_mm, top, "rule", 0.25),
        _rect(far, top + lane - inset - _ROOM_BAR_MM, near - far, _ROOM_BAR_MM, "band"),
    ]
    for x, side, colour, length in (
        (back, -1.0, "back", putt.back_marker_m),
        (through, 1.0, "through", putt.through_marker_m),
    ):
        shapes.append(_rect(x - 0.5 * MARKER_WIDTH_MM, top + inset, MARKER_WIDTH_MM, tall, colour))
        shapes.append({"kind": "flag", "x": x, "y": top + inset, "side": side, "colour": colour})
        toward = -side if _label_inside(abs(x)) else side
        shapes += _marker_label(putt, colour, length, x + toward * (2.0 if toward == -side else 6.0), middle,
                                "left" if toward > 0 else "right", units)  # fmt: skip
    return shapes


def _marker_label(
    putt: PuttStation, word: str, length_m: float, x: float, y: float, anchor: str, units: Units
) -> list[Shape]:
    """Three lines: which marker of which putt, its place in both systems, the putt in the other system."""
    other: Units = "imperial" if units == "metric" else "metric"
    name = f"{word} {format_putt_length(putt.putt_length_m, units)}"
    return [
        _text(x, y - 5.0, anchor, name, 11.0, word, bold=True),
        _text(x, y + 0.2, anchor, format_both(length_m, "stroke_length", units), 9.5, "ink"),
        _text(x, y + 4.8, anchor, f"putt of {format_putt_length(putt.putt_length_m, other)}", 8.0, "soft"),
    ]


def _ball_shapes() -> list[Shape]:
    """The ball in its place: it touches the zero line from beyond."""
    middle, radius = _RULER_MM + 0.5 * _BALL_BAND_MM, 0.5 * _BALL_MM
    return [
        {"kind": "circle", "x": 0.0, "y": middle - radius, "r": radius, "w": _BALL_MM},
        _text(radius, middle - 2.0, "center", "ball", 9.0, "ink"),
        _text(radius, middle + 4.0, "center", "to the hole →", 8.0, "soft"),
        _text(-2.0, middle - 4.0, "right", "0", 11.0, "ink", bold=True),
        _text(-2.0, middle + 2.0, "right", "back of the ball,", 8.0, "ink"),
        _text(-2.0, middle + 6.0, "right", "face meets it here", 8.0, "ink"),
    ]


def _ruler_shapes(tile: Tile, height: float) -> list[Shape]:
    """Inches along the top and centimetres along the foot, both from the zero line outward."""
    shapes = [
        _line(tile.left_mm, 0.0, tile.right_mm, 0.0, "ink", 0.25),
        _line(tile.left_mm, height, tile.right_mm, height, "ink", 0.25),
        _line(tile.left_mm, _RULER_MM, tile.right_mm, _RULER_MM, "rule", 0.25),
        _line(tile.left_mm, height - _RULER_MM, tile.right_mm, height - _RULER_MM, "rule", 0.25),
    ]
    for tick_mm, edge, inward, every, unit in (
        (1000.0 * INCH_M / 4.0, 0.0, 1.0, 4, "in"),
        (5.0, height, -1.0, 2, "cm"),
    ):
        for count in range(math.ceil(tile.left_mm / tick_mm), math.floor(tile.right_mm / tick_mm) + 1):
            x, whole = count * tick_mm, count % every == 0
            shapes.append(_line(x, edge, x, edge + inward * (3.2 if whole else 1.8), "ink", 0.2))
            named = whole and (unit == "in" or count % 10 == 0)
            if named and count:
                label = f"{abs(count) // every} {unit}"
                shapes.append(_text(x, edge + inward * 5.8, "center", label, 8.0, "ink"))
    return shapes


def _joint_shapes(plan: StripPlan, tile: Tile, height: float) -> list[Shape]:
    """Where to cut this tile, and where the next one's cut edge goes."""
    shapes: list[Shape] = []
    if tile.number > 1:
        shapes.append({**_line(tile.left_mm, -6.0, tile.left_mm, height + 6.0, "ink", 0.25), "dash": True})
        shapes.append(_text(tile.left_mm + 1.5, -4.0, "left", "cut along the dashed line", 7.0, "soft"))
    if tile.number < len(plan.tiles):
        edge = tile.right_mm - OVERLAP_MM
        shapes.append({**_line(edge, -6.0, edge, height + 6.0, "ink", 0.25), "dash": False})
        shapes.append(
            _text(
                edge - 1.5, -4.0, "right", f"cut edge of tile {tile.number + 1} on this line →", 7.0, "soft"
            )
        )
    return shapes


def _table_row(putt: PuttStation, units: Units) -> list[str]:
    low, high = (format_both(edge, "stroke_length", units) for edge in putt.back_marker_band_m)
    return [
        format_putt_length_both(putt.putt_length_m, units),
        format_both(putt.back_marker_m, "stroke_length", units),
        f"{low} to {high}",
        format_both(putt.through_marker_m, "stroke_length", units),
    ]


def _line(x: float, y: float, x2: float, y2: float, colour: str, width: float) -> Shape:
    return {
        "kind": "line",
        "x": x,
        "y": y,
        "w": x2 - x,
        "h": y2 - y,
        "colour": colour,
        "width": width,
        "dash": False,
    }


def _rect(x: float, y: float, width: float, height: float, colour: str) -> Shape:
    return {"kind": "rect", "x": x, "y": y, "w": width, "h": height, "colour": colour}


def _text(
    x: float, y: float, anchor: str, text: str, size: float, colour: str, *, bold: bool = False
) -> Shape:
    return {
        "kind": "text", "x": x, "y": y, "anchor": anchor, "text": text, "size": size, "colour": colour,
        "bold": bold,
    }  # fmt: skip
