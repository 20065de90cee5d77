"""One stroke: where the head is at equal steps of time, and its speed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import altair as alt
import numpy as np

from pacewright.core.display import Units, display_unit, format_figure
from pacewright.core.equipment import BALL_DIAMETER_M
from pacewright.core.recording import FloatArray
from pacewright.render.charts.drawing import Drawing, Sheet, Spec, time_axis
from pacewright.render.look import BACK, BALL, INK, PAPER, SOFT_INK, THROUGH
from pacewright.render.model import ReportModel, StrokeRow

DOT_STEP_S = 0.02
_LARGE_DOT_EVERY = 5
_LEAST_SPAN_M = 0.25


@dataclass(frozen=True, slots=True)
class _Drawn:
    """The stroke to draw from takeaway to finish, in seconds from contact and SI units."""

    label: str
    time_s: FloatArray
    position_m: FloatArray
    speed_m_s: FloatArray
    speed_after_m_s: float
    top_s: float
    units: Units

    @property
    def has_contact(self) -> bool:
        return math.isfinite(self.speed_after_m_s)

    def position_at(self, time_s: float | FloatArray) -> Any:
        """Position in the units of the page."""
        size = display_unit("stroke_length", self.units).size_si
        return np.interp(time_s, self.time_s, self.position_m) / size

    def length_text(self, time_s: float) -> str:
        """How far from contact the head is at that time, as text."""
        return format_figure(
            abs(float(np.interp(time_s, self.time_s, self.position_m))), "stroke_length", self.units
        ).plain

    def speed_text(self, speed_m_s: float) -> str:
        return format_figure(speed_m_s, "speed", self.units).plain


def _drawn(model: ReportModel) -> _Drawn | None:
    if model.drawn_row is None:
        return None
    row = model.rows[model.drawn_row]
    assert row.curve is not None  # ReportModel refuses a drawn row without one
    curve, top_s = row.curve, top_of(row)
    known = np.isfinite(curve.position_m) & np.isfinite(curve.speed_m_s)
    if math.isfinite(row.takeaway_time_s):
        known &= curve.time_s >= row.takeaway_time_s
    if math.isfinite(row.finish_time_s):
        known &= curve.time_s <= row.finish_time_s
    after = curve.speed_after_m_s if row.kind == "putt" else math.nan
    return _Drawn(
        row.label,
        curve.time_s[known],
        curve.position_m[known],
        curve.speed_m_s[known],
        after,
        top_s,
        model.units,
    )


def top_of(row: StrokeRow) -> float:
    """Time of the top from contact: the event where it was seen, else the farthest point of the curve."""
    if math.isfinite(row.top_time_s) or row.curve is None:
        return row.top_time_s
    before = row.curve.time_s <= 0.0
    return float(row.curve.time_s[before][np.nanargmin(row.curve.position_m[before])])


def dots_drawing(model: ReportModel) -> Drawing | None:
    """Equal-time dots: the closer together, the slower."""
    drawn = _drawn(model)
    if drawn is None:
        return None
    back, through = drawn.length_text(drawn.top_s), drawn.length_text(float(drawn.time_s[-1]))
    alternative = (
        f"Stroke {drawn.label}, place of the putter head every {DOT_STEP_S:g} seconds. "
        f"It goes back {back} in {drawn.top_s - drawn.time_s[0]:.2f} seconds, "
        f"returns to the ball in {-drawn.top_s:.2f} seconds, and "
        f"follows through {through} in {drawn.time_s[-1]:.2f} seconds."
    )
    return Drawing(
        title=f"Where the head is, stroke {drawn.label}",
        caption=f"One dot every {DOT_STEP_S:g} s, a large one every {DOT_STEP_S * _LARGE_DOT_EVERY:g} s "
        "counted from contact. Wide apart is fast, close together is slow.",
        alternative=alternative,
        build=lambda width_px: _dots_spec(drawn, width_px),
    )


def _dot_rows(drawn: _Drawn, back_y: float, through_y: float) -> list[dict[str, Any]]:
    first = math.ceil(drawn.time_s[0] / DOT_STEP_S - 1e-9)
    last = math.floor(drawn.time_s[-1] / DOT_STEP_S + 1e-9)
    rows = []
    for count in range(first, last + 1):
        time_s = count * DOT_STEP_S
        going_back = time_s < drawn.top_s
        rows.append(
            {
                "x": float(drawn.position_at(time_s)),
                "y": back_y if going_back else through_y,
                "way": "back" if going_back else "through",
                "size": 80 if count % _LARGE_DOT_EVERY == 0 else 26,
            }
        )
    return rows


def _dots_spec(drawn: _Drawn, width_px: int) -> Spec:
    sheet, unit = Sheet(), display_unit("stroke_length", drawn.units)
    top, finish = float(drawn.position_at(drawn.top_s)), float(drawn.position_at(drawn.time_s[-1]))
    ball = BALL_DIAMETER_M / unit.size_si
    right = max(finish, ball)
    margin = max(0.03 * (right - top), 0.5 * (_LEAST_SPAN_M / unit.size_si - (right - top)))
    domain = [top - margin, right + margin]
    width = width_px - 12
    ball_px = ball / (domain[1] - domain[0]) * width
    # The ball is drawn to scale, so the lines of text stand clear of it.
    heading_y, back_y, middle_y = 10.0, 32.0, 66.0
    through_y = middle_y + max(34.0, ball_px / 2 + 12.0)
    foot_y = through_y + max(26.0, ball_px / 2 + 14.0)
    height = foot_y + 14.0
    x = alt.X(
        "x:Q",
        scale=alt.Scale(domain=domain, nice=False),
        axis=alt.Axis(
            title=f"from contact along the target line, {unit.symbol} (behind −, beyond +)",
            tickCount=max(4, width // 70),
        ),
    )
    y = alt.Y("y:Q", scale=alt.Scale(domain=[0, height], reverse=True, nice=False), axis=None)

    dots = _dot_rows(drawn, back_y, through_y)
    ring = [row for row in dots if row["way"] == "back"]
    disc = [row for row in dots if row["way"] == "through"]
    size = alt.Size("size:Q", scale=None)
    ends = [{"x": top, "y": back_y - 9, "to": through_y + 9}]
    ends += [{"x": finish, "y": through_y - 9, "to": through_y + 9}]
    layers: list[Any] = [
        sheet.marks([{"x": top, "y": back_y, "to": 0.0}]).mark_rule(color=SOFT_INK, strokeWidth=0.75)
        .encode(x=x, x2=alt.X2("to"), y=y),
        sheet.marks([{"x": top, "y": through_y, "to": finish}]).mark_rule(color=SOFT_INK, strokeWidth=0.75)
        .encode(x=x, x2=alt.X2("to"), y=y),
        sheet.marks(ends).mark_rule(color=SOFT_INK, strokeWidth=1.25).encode(x=x, y=y, y2=alt.Y2("to")),
        sheet.marks([{"x": ball / 2, "y": through_y}]).mark_point(
            shape="circle", size=ball_px**2, filled=True, fill=BALL, stroke=INK, strokeWidth=1.25, opacity=1
        ).encode(x=x, y=y),
        sheet.marks([{"x": 0, "y": back_y - 14, "to": through_y + 14}]).mark_rule(color=INK, strokeWidth=1.5)
        .encode(x=x, y=y, y2=alt.Y2("to")),
        sheet.marks(ring).mark_point(shape="circle", fill=PAPER, stroke=BACK, strokeWidth=1.5, opacity=1)
        .encode(x=x, y=y, size=size),
        sheet.marks(disc).mark_point(shape="circle", fill=THROUGH, stroke=PAPER, strokeWidth=0.75, opacity=1)
        .encode(x=x, y=y, size=size),
    ]  # fmt: skip
    going_back = f"← going back, {drawn.top_s - drawn.time_s[0]:.2f} s"
    coming_through = f"coming through →, {-drawn.top_s:.2f} s to contact, {drawn.time_s[-1]:.2f} s beyond"
    contact = "contact" if drawn.has_contact else "place at address"
    for place, height_px, text, style in (
        (top, heading_y, going_back, {"align": "left", "colour": BACK}),
        (top, foot_y, coming_through, {"align": "left", "colour": THROUGH}),
        (top, middle_y, f"{drawn.length_text(drawn.top_s)} back",
         {"align": "left", "dx": 6, "fontWeight": 700, "colour": INK}),
        (finish, middle_y, f"{drawn.length_text(float(drawn.time_s[-1]))} through",
         {"align": "right", "dx": -6, "fontWeight": 700, "colour": INK}),
        (0.0, middle_y, contact, {"align": "center", "colour": INK}),
    ):  # fmt: skip
        layers += sheet.words([{"x": place, "y": height_px, "text": text}], x, y, **style)
    return sheet.spec(alt.layer(*layers).properties(width=width, height=height))


def speed_drawing(model: ReportModel) -> Drawing | None:
    """Speed against time; contact splits the line."""
    drawn = _drawn(model)
    if drawn is None:
        return None
    return Drawing(
        title=f"How fast it moves, stroke {drawn.label}",
        caption="Speed along the target line: below zero going back, above zero coming through. "
        "The ball takes its share of the head's speed at contact, so the line breaks there.",
        alternative=_speed_words(drawn),
        build=lambda width_px: _speed_spec(drawn, model.beat_times_s, width_px),
    )


def _speed_words(drawn: _Drawn) -> str:
    before = drawn.time_s <= 0.0
    fastest_back = drawn.speed_text(abs(float(drawn.speed_m_s[before].min())))
    at_contact = drawn.speed_text(float(np.interp(0.0, drawn.time_s[before], drawn.speed_m_s[before])))
    if not drawn.has_contact:
        return (
            f"Stroke {drawn.label}, speed of the putter head against time: up to {fastest_back} going back, "
            f"{at_contact} past the place at address, no ball."
        )
    return (
        f"Stroke {drawn.label}, speed of the putter head against time: up to {fastest_back} going back, "
        f"{at_contact} just before contact and {drawn.speed_text(drawn.speed_after_m_s)} just after."
    )


def _speed_rows(drawn: _Drawn) -> list[dict[str, Any]]:
    """Points of the curve in three parts that are never joined: going back, coming through, after contact."""
    size = display_unit("speed", drawn.units).size_si
    rows: list[dict[str, Any]] = []
    for time_s, speed in zip(drawn.time_s.tolist(), (drawn.speed_m_s / size).tolist(), strict=True):
        after = time_s > 0.0 and drawn.has_contact
        part = "back" if time_s <= drawn.top_s else "after" if after else "through"
        if part == "through" and rows and rows[-1]["part"] == "back":
            rows.append({**rows[-1], "part": "through"})
        if part == "after" and rows and rows[-1]["part"] != "after":
            rows.append({"t": 0.0, "v": drawn.speed_after_m_s / size, "part": "after"})
        rows.append({"t": time_s, "v": speed, "part": part})
    return rows


def _speed_spec(drawn: _Drawn, beat_times_s: tuple[float, ...], width_px: int) -> Spec:
    sheet, unit = Sheet(), display_unit("speed", drawn.units)
    rows = _speed_rows(drawn)
    edge = 0.08 if beat_times_s else 0.03  # room for the name of a beat at the edge
    span = [min(drawn.time_s[0], *beat_times_s, 0.0) - edge, max(drawn.time_s[-1], *beat_times_s, 0.0) + edge]
    x = alt.X(
        "t:Q",
        scale=alt.Scale(domain=span, nice=False),
        axis=time_axis("seconds from contact", width_px, grid=False),
    )
    y = alt.Y(
        "v:Q",
        scale=alt.Scale(domain=_speed_domain(rows, has_beats=bool(beat_times_s)), nice=False),
        axis=alt.Axis(title=f"speed, {unit.symbol}", tickCount=5),
    )
    layers: list[Any] = [
        sheet.marks([{"v": 0}]).mark_rule(color=INK, strokeWidth=1).encode(y=y),
        sheet.marks([{"t": 0}]).mark_rule(color=INK, strokeWidth=1.5).encode(x=x),
    ]
    for part, colour in (("back", BACK), ("through", THROUGH), ("after", THROUGH)):
        part_rows = [row for row in rows if row["part"] == part]
        layers.append(sheet.marks(part_rows).mark_line(color=colour, strokeWidth=2.25).encode(x=x, y=y))
    layers += _speed_labels(sheet, drawn, rows, x, y)
    layers += _beat_layers(sheet, beat_times_s, x)
    return sheet.spec(alt.layer(*layers).properties(width=width_px - 66, height=180))


def _speed_domain(rows: list[dict[str, Any]], *, has_beats: bool) -> list[float]:
    """Room above for the label at contact, and below for the beats."""
    low, high = min(row["v"] for row in rows), max(row["v"] for row in rows)
    span = high - low
    return [low - (0.24 if has_beats else 0.08) * span, high + 0.1 * span]


def _speed_labels(sheet: Sheet, drawn: _Drawn, rows: list[dict[str, Any]], x: alt.X, y: alt.Y) -> list[Any]:
    through = [row for row in rows if row["part"] == "through" and row["t"] <= 0.0]
    slowest = min(rows, key=lambda row: row["v"])
    layers: list[Any] = sheet.words([{**slowest, "v": 0.36 * slowest["v"], "text": "going back"}], x, y, BACK)
    layers += sheet.words(
        [{"t": 0.0, "v": 0.36 * slowest["v"], "text": "contact"}], x, y, INK, align="left", dx=6
    )
    if through:
        rising = min(through, key=lambda row: abs(row["v"] - 0.45 * through[-1]["v"]))
        layers += sheet.words([{**rising, "text": "coming through"}], x, y, THROUGH, align="right", dx=-8)
    if not (drawn.has_contact and through):
        return layers
    before, after = through[-1], next(row for row in rows if row["part"] == "after")
    at_contact = float(
        np.interp(0.0, drawn.time_s[drawn.time_s <= 0.0], drawn.speed_m_s[drawn.time_s <= 0.0])
    )
    for row, fill, text, dy in (
        (before, INK, f"{drawn.speed_text(at_contact)} before", -4),
        (after, PAPER, f"{drawn.speed_text(drawn.speed_after_m_s)} after", -8),
    ):
        dot = sheet.marks([row]).mark_point(
            shape="circle", size=60, fill=fill, stroke=INK, strokeWidth=1.75, opacity=1
        )
        layers.append(dot.encode(x=x, y=y))
        layers += sheet.words([{**row, "text": text}], x, y, INK, align="left", dx=9, dy=dy)
    return layers


def _beat_layers(sheet: Sheet, beat_times_s: tuple[float, ...], x: alt.X) -> list[Any]:
    """Beats as numbered ticks along the foot of the chart."""
    names = ("1 start", "2 back", "3 through")
    rows = [{"t": time, "text": name} for time, name in zip(beat_times_s, names, strict=False)]
    if not rows:
        return []
    foot, on_rows = alt.value(180), sheet.marks(rows)
    sign: Spec = {"shape": "triangle-up", "size": 70, "filled": True, "opacity": 1, "yOffset": -5}
    return [
        on_rows.mark_point(color=INK, **sign).encode(x=x, y=foot),
        on_rows.mark_text(dy=-19, fontSize=11, color=SOFT_INK).encode(x=x, y=foot, text=alt.Text("text:N")),
    ]
