"""Times of every stroke beside the reference: backswing, downswing, and their ratio."""

from __future__ import annotations

import math
from typing import Any

import altair as alt

from pacewright.core.measure import Measure
from pacewright.core.registry import MEASURES
from pacewright.render.charts.drawing import Drawing, Sheet, Spec, evenly_picked
from pacewright.render.look import BACK, BAND, INK, PAPER, SOFT_INK, THROUGH, WIDE_PX
from pacewright.render.model import ReferenceBand, ReportModel, StrokeRow

TIMED = ("backswing_time_s", "downswing_time_s", "time_ratio")
_MOST_STROKES = 60
_SIDE_SHAPES = {"below": "triangle-left", "inside": "circle", "above": "triangle-right"}
_SIDE_COLOURS = {"below": BACK, "inside": INK, "above": THROUGH}


def timing_drawing(model: ReportModel) -> Drawing | None:
    """Backswing time, downswing time and time ratio with 95 % bars; None when no putt has them."""
    rows = [row for row in model.rows if row.kind == "putt" and any(_known(row, name) for name in TIMED)]
    if not rows:
        return None
    picked = [rows[k] for k in evenly_picked(len(rows), _MOST_STROKES)]
    some = "" if len(picked) == len(rows) else f" {len(picked)} of {len(rows)} strokes are drawn."
    bands = {name: band for name in TIMED if (band := model.band(name)) is not None}
    return Drawing(
        title="Times, stroke by stroke",
        caption="Bars hold the true figure 95 times in 100. "
        + ("Shaded: the reference. ◀ below it, ● inside, ▶ above. " if bands else "")
        + f"The line is the mean.{some}",
        alternative=_words(rows, bands),
        build=lambda width_px: _spec(picked, model, bands, width_px),
    )


def _known(row: StrokeRow, name: str) -> bool:
    measure = row.measures.get(name)
    return measure is not None and measure.is_known


def _side(value: float, band: ReferenceBand | None) -> str:
    if band is None:
        return "inside"
    return "below" if value < band.low else "above" if value > band.high else "inside"


def _words(rows: list[StrokeRow], bands: dict[str, ReferenceBand]) -> str:
    sentences = []
    for name in TIMED:
        values = [row.measures[name].value for row in rows if _known(row, name)]
        if not values:
            continue
        sentence = (
            f"{MEASURES[name].label} of {len(values)} putts from {min(values):.2f} to {max(values):.2f}"
        )
        if (band := bands.get(name)) is not None:
            inside = sum(_side(value, band) == "inside" for value in values)
            sentence += f", {inside} inside the reference {band.low:g} to {band.high:g}"
        sentences.append(sentence + ".")
    return " ".join(sentences)


def _spec(rows: list[StrokeRow], model: ReportModel, bands: dict[str, ReferenceBand], width_px: int) -> Spec:
    sheet, beside = Sheet(), width_px >= WIDE_PX
    step = max(6.0, min(17.0, 330.0 / len(rows)))
    gap = 26
    width = (width_px - 66 - 2 * gap) // 3 if beside else width_px - 66
    panels = [
        _panel(
            sheet, rows, model, name, bands.get(name), width, step, show_labels=not beside or name == TIMED[0]
        )
        for name in TIMED
        if any(_known(row, name) for row in rows)
    ]
    return sheet.spec(alt.hconcat(*panels, spacing=gap) if beside else alt.vconcat(*panels, spacing=18))


def _panel(
    sheet: Sheet, rows: list[StrokeRow], model: ReportModel, name: str, band: ReferenceBand | None,
    width: int, step: float, *, show_labels: bool,
) -> Any:  # fmt: skip
    points = [_point(row, row.measures[name], band) for row in rows if _known(row, name)]
    domain = _domain(points, band)
    x = alt.X("value:Q", scale=alt.Scale(domain=domain, nice=True, zero=False, clamp=True),
              axis=alt.Axis(tickCount=max(3, width // 50), title=None, grid=True))  # fmt: skip
    every = math.ceil(12.0 / step)
    shown = [row.label for k, row in enumerate(rows) if k % every == 0]
    y = alt.Y("label:N", sort=[row.label for row in rows],
              scale=alt.Scale(domain=[row.label for row in rows]),
              axis=alt.Axis(title="stroke" if show_labels else None, labels=show_labels, values=shown,
                            ticks=False, domain=False, grid=False, titlePadding=6))  # fmt: skip
    layers: list[Any] = []
    if band is not None:
        layers.append(sheet.marks([{"low": band.low, "high": band.high}]).mark_rect(color=BAND, opacity=1)
                      .encode(x=alt.X("low:Q"), x2=alt.X2("high")))  # fmt: skip
    mean = next((spread.mean for spread in model.spreads if spread.measure == name), None)
    if mean is not None:
        layers.append(sheet.marks([{"value": mean}]).mark_rule(color=SOFT_INK, strokeWidth=1.25).encode(x=x))
    layers.append(sheet.marks([p for p in points if p["low"] is not None]).mark_rule(color=INK, strokeWidth=1)
                  .encode(x=alt.X("low:Q"), x2=alt.X2("high"), y=y))  # fmt: skip
    for side, shape in _SIDE_SHAPES.items():
        on_side = [p for p in points if p["side"] == side]
        layers.append(
            sheet.marks(on_side)
            .mark_point(
                shape=shape, size=70, fill=_SIDE_COLOURS[side], stroke=PAPER, strokeWidth=0.75, opacity=1
            )
            .encode(x=x, y=y)
        )
    unit = MEASURES[name].unit
    title = MEASURES[name].label + (f", {unit}" if unit else "")
    subtitle = f"reference {band.low:g} to {band.high:g}" if band is not None else " "
    return alt.layer(*layers).properties(
        width=width, height=alt.Step(step),
        title=alt.Title(title, subtitle=subtitle, subtitleColor=SOFT_INK, subtitleFontSize=12),
    )  # fmt: skip


def _point(row: StrokeRow, measure: Measure, band: ReferenceBand | None) -> dict[str, Any]:
    low, high = measure.interval()
    certain = math.isfinite(measure.sd)
    return {
        "label": row.label,
        "value": measure.value,
        "low": low if certain else None,
        "high": high if certain else None,
        "side": _side(measure.value, band),
    }


def _domain(points: list[dict[str, Any]], band: ReferenceBand | None) -> list[float]:
    values = [p[key] for p in points for key in ("low", "value", "high") if p[key] is not None]
    values += [] if band is None else [band.low, band.high]
    low, high = min(values), max(values)
    margin = 0.06 * (high - low) or 0.1
    return [low - margin, high + margin]
