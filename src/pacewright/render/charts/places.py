"""The practice station from above: where the markers stand for each length of putt."""

from __future__ import annotations

from typing import Any

import altair as alt

from pacewright.core.display import display_unit, format_both, format_figure, format_putt_length
from pacewright.core.equipment import BALL_DIAMETER_M
from pacewright.render.charts.drawing import Drawing, Sheet, Spec
from pacewright.render.look import BACK, BALL, INK, SOFT_INK, THROUGH, WIDE_PX
from pacewright.render.model import ReportModel

_STEP_PX = 42


def station_drawing(model: ReportModel) -> Drawing | None:
    """Markers to scale, one line a putt; None without a station."""
    if model.station is None or not model.station.stations:
        return None
    sentences = [
        f"{format_putt_length(putt.putt_length_m, model.units)} putt: back marker "
        f"{format_both(putt.back_marker_m, 'stroke_length', model.units)} behind the ball, through marker "
        f"{format_both(putt.through_marker_m, 'stroke_length', model.units)} beyond it."
        for putt in model.station.stations
    ]
    return Drawing(
        title="Where the markers stand",
        caption="Measured from the back of the ball, where the face meets it. The bar at the back marker is "
        "the room that keeps the distance within its tolerance.",
        alternative=" ".join(sentences),
        build=lambda width_px: _spec(model, width_px),
    )


def _spec(model: ReportModel, width_px: int) -> Spec:
    assert model.station is not None
    sheet, unit = Sheet(), display_unit("stroke_length", model.units)
    putts = model.station.stations
    back = max(max(putt.back_marker_band_m[1], putt.back_marker_m) for putt in putts) / unit.size_si
    through = max(putt.through_marker_m for putt in putts) / unit.size_si
    margin = 0.08 * (back + through)
    width = width_px - 66
    domain = [-back - margin, through + margin]
    ball = BALL_DIAMETER_M / unit.size_si
    ball_px = ball / (domain[1] - domain[0]) * width
    names = [format_putt_length(putt.putt_length_m, model.units) for putt in putts]
    rows: list[dict[str, Any]] = [
        {
            "putt": name,
            "back": -putt.back_marker_m / unit.size_si,
            "near": -putt.back_marker_band_m[0] / unit.size_si,
            "far": -putt.back_marker_band_m[1] / unit.size_si,
            "through": putt.through_marker_m / unit.size_si,
            "ball": ball / 2,
            "backText": format_figure(putt.back_marker_m, "stroke_length", model.units).value,
            "throughText": format_figure(putt.through_marker_m, "stroke_length", model.units).value,
        }
        for name, putt in zip(names, putts, strict=True)
    ]
    y = alt.Y("putt:N", sort=names, scale=alt.Scale(domain=names),
              axis=alt.Axis(title=None, ticks=False, domain=False, grid=False, minExtent=46))  # fmt: skip
    scale = alt.Scale(domain=domain, nice=False)
    title = f"from the back of the ball, {unit.symbol}"
    axis = alt.Axis(title=title, tickCount=10 if width_px >= WIDE_PX else 5)

    def x(field: str) -> alt.X:
        return alt.X(f"{field}:Q", scale=scale, axis=axis)

    on_rows = sheet.marks(rows)
    layers: list[Any] = [
        sheet.marks([{"zero": 0}]).mark_rule(color=INK, strokeWidth=1).encode(x=x("zero")),
        on_rows.mark_rule(color=SOFT_INK, strokeWidth=0.75).encode(x=x("back"), x2=alt.X2("through"), y=y),
        on_rows.mark_bar(color=BACK, opacity=0.28, height=15).encode(x=x("far"), x2=alt.X2("near"), y=y),
        on_rows.mark_point(
            shape="circle", size=ball_px**2, fill=BALL, stroke=INK, strokeWidth=1.25, opacity=1
        ).encode(x=x("ball"), y=y),
        on_rows.mark_tick(color=BACK, thickness=3, size=22, opacity=1).encode(x=x("back"), y=y),
        on_rows.mark_tick(color=THROUGH, thickness=3, size=22, opacity=1).encode(x=x("through"), y=y),
    ]
    for field, colour in (("back", BACK), ("through", THROUGH)):
        figures = [{**row, "text": row[f"{field}Text"]} for row in rows]
        layers += sheet.words(figures, x(field), y, colour, baseline="bottom", dy=-11, fontWeight=700)
    for text, colour, align, dx in (
        ("back marker", BACK, "right", -8),
        ("through marker", THROUGH, "left", 8),
    ):
        layers += sheet.words(
            [{"zero": 0, "text": text}], x("zero"), alt.value(-16), colour, align=align, dx=dx
        )
    return sheet.spec(alt.layer(*layers).properties(width=width, height=alt.Step(_STEP_PX)))
