"""What putts say, each figure with its interval: shares of causes, change of spread, spread by beat.

Blue and orange tell kinds apart (adds to the spread, or makes up for others; a session, the beat to use) and
never good from bad.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import Any

import altair as alt

from pacewright.render.charts.drawing import Drawing, Sheet, Spec
from pacewright.render.look import BACK, INK, NARROW_PX, PAPER, SOFT_INK, THROUGH
from pacewright.render.model import Answer, Figure, ReportModel

_ROW_PX = 34
_NAMES_PX, _NARROW_NAMES_PX = 150, 112
_RATIOS = (0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0)


def shares_drawing(model: ReportModel) -> Drawing | None:
    """A bar a cause: its share of the variance, with its interval; None without shares."""
    answer = model.answer("shares")
    if answer is None or not answer.figures:
        return None
    below = any(figure.value < 0.0 for figure in answer.figures)
    return Drawing(
        title="Share of each cause in the spread of distance",
        caption="Bars: share of the variance. Lines: 90 % sure between their ends."
        + (" A bar below 0 (orange) makes up for others." if below else ""),
        alternative=_in_words(answer.figures, "of the variance"),
        build=lambda width_px: _shares_spec(answer.figures, width_px),
    )


def change_drawing(model: ReportModel) -> Drawing | None:
    """The spread now over the spread before, with its interval; None where the putts give no interval."""
    answer = model.answer("change")
    if answer is None or not answer.figures:
        return None
    return Drawing(
        title="Spread of distance now, of what it was",
        caption="Dots: now over before. Lines: 90 % sure between their ends, however often you look. A line "
        "that crosses 100 % leaves open which way it went.",
        alternative=_in_words(answer.figures, "of the spread before"),
        build=lambda width_px: _change_spec(answer.figures, width_px),
    )


def beat_drawing(model: ReportModel) -> Drawing | None:
    """The spread at each beat, with its interval; None without."""
    answer = model.answer("beat")
    if answer is None or not answer.figures:
        return None
    return Drawing(
        title="Spread of distance at each beat",
        caption="Dots: spread of the putts at that beat. Lines: 90 % sure between their ends, from these "
        "putts alone. Dashed: the beat to use.",
        alternative=_in_words(answer.figures, "of the distance"),
        build=lambda width_px: _beat_spec(answer, width_px),
    )


def _in_words(figures: Sequence[Figure], of_what: str) -> str:
    told = [
        f"{figure.label}: {100 * figure.value:.0f} % {of_what}, between {100 * figure.low:.0f} and "
        f"{100 * figure.high:.0f} %."
        for figure in figures
    ]
    return " ".join(told)


def _rows(figures: Sequence[Figure]) -> list[dict[str, Any]]:
    return [
        {
            "name": figure.label,
            "value": 100.0 * figure.value,
            "low": 100.0 * figure.low,
            "high": 100.0 * figure.high,
            "zero": 0.0,
            "text": f"{100.0 * figure.value:.0f} %".replace("-", "−"),
        }
        for figure in figures
    ]


def _names(rows: Sequence[dict[str, Any]], width_px: int) -> tuple[alt.Y, int]:
    """The axis of names, and the width that it leaves."""
    names_px = _NARROW_NAMES_PX if width_px <= NARROW_PX else _NAMES_PX
    # Long names take two lines or more: some 6.5 px a letter.
    for row in rows:
        row["name"] = "\n".join(textwrap.wrap(row["name"], int(names_px / 6.5)))
    names = [row["name"] for row in rows]
    axis = alt.Axis(
        title=None, ticks=False, domain=False, grid=False, minExtent=names_px, maxExtent=names_px,
        labelLimit=names_px, labelExpr="split(datum.label, '\\n')",
    )  # fmt: skip
    return alt.Y("name:N", sort=names, scale=alt.Scale(domain=names), axis=axis), width_px - names_px - 22


def _shares_spec(figures: Sequence[Figure], width_px: int) -> Spec:
    sheet, rows = Sheet(), _rows(figures)
    y, width = _names(rows, width_px)
    low = min(0.0, *(row["low"] for row in rows))
    high = max(row["high"] for row in rows)
    room = 0.14 * (high - low)
    scale = alt.Scale(domain=[low - (0.03 * (high - low) if low < 0.0 else 0.0), high + room], nice=False)
    axis = alt.Axis(title="share of the variance, %", tickCount=5, grid=True)

    def x(field: str) -> alt.X:
        return alt.X(f"{field}:Q", scale=scale, axis=axis)

    layers: list[Any] = []
    for colour, kept in (
        (BACK, [r for r in rows if r["value"] >= 0.0]),
        (THROUGH, [r for r in rows if r["value"] < 0.0]),
    ):
        if kept:
            bars = sheet.marks(kept).mark_bar(color=colour, opacity=0.45, height=16)
            layers.append(bars.encode(x=x("zero"), x2=alt.X2("value"), y=y))
    layers += _whiskers(sheet.marks(rows), x, y)
    layers.append(sheet.marks([{"zero": 0.0}]).mark_rule(color=INK, strokeWidth=1).encode(x=x("zero")))
    layers += sheet.words(rows, x("high"), y, INK, align="left", dx=7, fontWeight=700)
    return sheet.spec(alt.layer(*layers).properties(width=width, height=alt.Step(_ROW_PX)))


def _whiskers(chart: alt.Chart, x: Any, y: alt.Y) -> list[Any]:
    """A line from ``low`` to ``high`` with ends."""
    line = chart.mark_rule(color=INK, strokeWidth=1.5).encode(x=x("low"), x2=alt.X2("high"), y=y)
    ends = [
        chart.mark_tick(color=INK, thickness=1.5, size=9, opacity=1).encode(x=x(end), y=y)
        for end in ("low", "high")
    ]
    return [line, *ends]


def _change_spec(figures: Sequence[Figure], width_px: int) -> Spec:
    sheet, rows = Sheet(), _rows(figures)
    y, width = _names(rows, width_px)
    low = min(70.0, *(0.93 * row["low"] for row in rows))
    high = max(140.0, *(1.15 * row["high"] for row in rows))
    ticks = [100.0 * ratio for ratio in _RATIOS if low <= 100.0 * ratio <= high]
    scale = alt.Scale(type="log", domain=[low, high], nice=False)
    axis = alt.Axis(title="spread now, % of the spread before", values=ticks, grid=True, format=".0f")

    def x(field: str) -> alt.X:
        return alt.X(f"{field}:Q", scale=scale, axis=axis)

    same = sheet.marks([{"same": 100.0}]).mark_rule(color=INK, strokeWidth=1.25, strokeDash=[4, 3])
    dots = sheet.marks(rows).mark_point(shape="circle", size=90, fill=BACK, stroke=PAPER, opacity=1)
    layers = [
        same.encode(x=x("same")),
        *_whiskers(sheet.marks(rows), x, y),
        dots.encode(x=x("value"), y=y),
        *sheet.words(rows, x("value"), y, BACK, baseline="bottom", dy=-9, fontWeight=700),
    ]
    return sheet.spec(alt.layer(*layers).properties(width=width, height=alt.Step(_ROW_PX + 10)))


def _beat_spec(answer: Answer, width_px: int) -> Spec:
    sheet = Sheet()
    rows = [{**row, "beat": place} for row, place in zip(_rows(answer.figures), answer.places, strict=True)]
    beats = [*answer.places, answer.chosen]
    x_scale = alt.Scale(domain=[min(beats) - 4, max(beats) + 4], nice=False)
    top = max(row["high"] for row in rows)
    y_scale = alt.Scale(domain=[0.0, 1.05 * top], nice=False)
    x = alt.X("beat:Q", scale=x_scale, axis=alt.Axis(title="beats a minute", tickCount=6, grid=False))
    axis = alt.Axis(title="spread, % of the distance", tickCount=4, grid=True, minExtent=34)

    def y(field: str) -> alt.Y:
        return alt.Y(f"{field}:Q", scale=y_scale, axis=axis)

    on_rows = sheet.marks(rows)
    layers: list[Any] = [
        on_rows.mark_rule(color=INK, strokeWidth=1.5).encode(x=x, y=y("low"), y2=alt.Y2("high"))
    ]
    if math.isfinite(answer.chosen):
        chosen = [{"beat": answer.chosen, "top": 1.05 * top, "text": f"{answer.chosen:.0f}"}]
        line = sheet.marks(chosen).mark_rule(color=THROUGH, strokeWidth=1.5, strokeDash=[5, 4])
        layers.append(line.encode(x=x))
        layers += sheet.words(chosen, x, y("top"), THROUGH, align="left", dx=5, dy=7, fontWeight=700)
    dots = on_rows.mark_point(shape="circle", size=80, fill=BACK, stroke=PAPER, opacity=1)
    layers.append(dots.encode(x=x, y=y("value")))
    layers.append(
        sheet.marks(rows).mark_text(color=SOFT_INK, align="left", dx=8, fontSize=12)
        .encode(x=x, y=y("value"), text=alt.Text("text:N"))
    )  # fmt: skip
    return sheet.spec(alt.layer(*layers).properties(width=width_px - 66, height=170))
