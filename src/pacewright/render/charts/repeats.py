"""All strokes laid over each other, contact on contact: place above, speed below."""

from __future__ import annotations

import math
from typing import Any

import altair as alt
import numpy as np

from pacewright.core.display import Units, display_unit, format_putt_length
from pacewright.render.charts.drawing import Drawing, Sheet, Spec, evenly_picked, time_axis
from pacewright.render.charts.single import top_of
from pacewright.render.look import BACK, INK, PAPER, THROUGH
from pacewright.render.model import ReportModel, StrokeRow

_MOST_STROKES = 40
_POINTS_A_SIDE = 60


def repeats_drawing(model: ReportModel) -> Drawing | None:
    """Place and speed of every putt with a curve; None with fewer than two."""
    with_curve = [row for row in model.rows if row.kind == "putt" and row.curve is not None]
    if len(with_curve) < 2:
        return None
    picked = [with_curve[k] for k in evenly_picked(len(with_curve), _MOST_STROKES)]
    some = "" if len(picked) == len(with_curve) else f" {len(picked)} of {len(with_curve)} strokes are drawn."
    return Drawing(
        title="Strokes laid over each other at contact",
        caption="Open circles: the top. Filled circles: the finish. Tops that stand one above the other "
        f"were reached with the same downswing time.{some}",
        alternative=_words(with_curve),
        build=lambda width_px: _spec(picked, model.units, width_px),
    )


def _words(rows: list[StrokeRow]) -> str:
    tops = [-top_of(row) for row in rows]
    return (
        f"{len(rows)} putts aligned at contact, place and speed of the putter head against time. "
        f"The top comes between {min(tops):.2f} and {max(tops):.2f} seconds before contact."
    )


def _curve_rows(row: StrokeRow, units: Units) -> list[dict[str, Any]]:
    """Place and speed of one stroke, takeaway to finish, thinned, before and after contact as two lines."""
    curve = row.curve
    assert curve is not None
    length, speed = display_unit("stroke_length", units).size_si, display_unit("speed", units).size_si
    start = row.takeaway_time_s if math.isfinite(row.takeaway_time_s) else float(curve.time_s[0])
    end = row.finish_time_s if math.isfinite(row.finish_time_s) else float(curve.time_s[-1])
    known = np.isfinite(curve.position_m) & np.isfinite(curve.speed_m_s)
    rows: list[dict[str, Any]] = []
    for side, first, last in (("before", start, 0.0), ("after", 0.0, end)):
        inside = known & (curve.time_s >= first) & (curve.time_s <= last)
        if side == "after":
            inside &= curve.time_s > 0.0
            if math.isfinite(curve.speed_after_m_s):
                rows.append(_point(row.label, side, 0.0, 0.0, curve.speed_after_m_s / speed))
        chosen = np.flatnonzero(inside)
        times, places, speeds = (
            values[chosen].tolist()
            for values in (curve.time_s, curve.position_m / length, curve.speed_m_s / speed)
        )
        rows += [
            _point(row.label, side, times[k], places[k], speeds[k])
            for k in evenly_picked(len(times), _POINTS_A_SIDE)
        ]
    return rows


def _point(label: str, side: str, time_s: float, place: float, speed: float) -> dict[str, Any]:
    return {"line": f"{label} {side}", "t": round(time_s, 4), "x": round(place, 3), "v": round(speed, 3)}


def _end_rows(rows: list[StrokeRow], units: Units) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Tops and finishes of the strokes."""
    length = display_unit("stroke_length", units).size_si
    tops: list[dict[str, Any]] = []
    finishes: list[dict[str, Any]] = []
    for row in rows:
        curve = row.curve
        assert curve is not None
        known = np.isfinite(curve.position_m)
        end = row.finish_time_s if math.isfinite(row.finish_time_s) else float(curve.time_s[known][-1])
        for time_s, ends in ((top_of(row), tops), (end, finishes)):
            place = float(np.interp(time_s, curve.time_s[known], curve.position_m[known])) / length
            asked = "" if row.asked_length_m is None else format_putt_length(row.asked_length_m, units)
            ends.append({"t": time_s, "x": place, "asked": asked})
    return tops, finishes


def _asked_labels(finishes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """One label for each length that was asked: as high as its farthest finish, to the right of its last."""
    groups: dict[str, list[dict[str, Any]]] = {}
    for row in finishes:
        if row["asked"]:
            groups.setdefault(row["asked"], []).append(row)
    if len(groups) < 2:
        return []
    return [
        {"t": max(row["t"] for row in group), "x": max(row["x"] for row in group), "text": asked}
        for asked, group in groups.items()
    ]


def _spec(rows: list[StrokeRow], units: Units, width_px: int) -> Spec:
    sheet = Sheet()
    points = [point for row in rows for point in _curve_rows(row, units)]
    tops, finishes = _end_rows(rows, units)
    asked = _asked_labels(finishes)
    last = max(row["t"] for row in points)
    span = [min(row["t"] for row in points) - 0.03, last + (0.16 if asked else 0.05)]

    def time(title: str | None) -> alt.X:
        axis = time_axis(title, width_px, grid=True)
        return alt.X("t:Q", scale=alt.Scale(domain=span, nice=False), axis=axis)

    def panel(field: str, title: str, x: alt.X, height: int, marked: list[tuple[Any, str, str]]) -> Any:
        y = alt.Y(f"{field}:Q", axis=alt.Axis(title=title, tickCount=5, grid=True, minExtent=34))
        layers: list[Any] = [
            sheet.marks([{"zero": 0}]).mark_rule(color=INK).encode(y=alt.Y("zero:Q")),
            sheet.marks([{"t": 0}]).mark_rule(color=INK, strokeWidth=1.5).encode(x=x),
            sheet.marks(points).mark_line(color=INK, strokeWidth=1.1, opacity=0.55)
            .encode(x=x, y=y, detail=alt.Detail("line:N")),
        ]  # fmt: skip
        for ends, fill, stroke in marked:
            dot = sheet.marks(ends).mark_point(shape="circle", size=48, fill=fill, stroke=stroke, opacity=1)
            layers.append(dot.encode(x=x, y=y))
        if marked:
            layers += sheet.words(asked, x, y, INK, align="left", dx=8)
            layers += sheet.words([{"t": 0, "x": min(row["x"] for row in tops), "text": "contact"}],
                            x, y, INK, align="left", dx=6, dy=-7)  # fmt: skip
        return alt.layer(*layers).properties(width=width_px - 66, height=height)

    place, speed = display_unit("stroke_length", units).symbol, display_unit("speed", units).symbol
    chart = alt.vconcat(
        panel("x", f"place, {place}", time(None), 165, [(tops, PAPER, BACK), (finishes, THROUGH, PAPER)]),
        panel("v", f"speed, {speed}", time("seconds from contact"), 125, []),
        spacing=10,
    )
    return sheet.spec(chart)
