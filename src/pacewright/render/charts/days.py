"""The run of days: spread of distance and bias, session by session."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import altair as alt

from pacewright.render.charts.drawing import Drawing, Sheet, Spec, evenly_picked
from pacewright.render.look import BACK, INK, PAPER, SOFT_INK, THROUGH

_HEIGHT_PX = 190


@dataclass(frozen=True, slots=True)
class Day:
    """One session: its day (ISO), spread and bias as shares of the distance, and how many putts."""

    held_on: str
    spread_share: float
    bias_share: float
    putts: int

    @property
    def spread_sd(self) -> float:
        """Standard uncertainty of the spread, as for a normal scatter: spread / √(2 (n − 1))."""
        return self.spread_share / math.sqrt(2.0 * max(self.putts - 1, 1))


def days_drawing(days: Sequence[Day]) -> Drawing | None:
    """Spread and bias of each session in the order held; None with fewer than two."""
    if len(days) < 2:
        return None
    first, last = days[0], days[-1]
    return Drawing(
        title="Spread and bias, session by session",
        caption="Filled: spread of the distance rolled, with a line of twice its standard uncertainty either "
        "way. Open: how far the putts finish past (above 0) or short (below 0) on average.",
        alternative=f"{len(days)} sessions. Spread {_percent(first.spread_share)} on {first.held_on}, "
        f"{_percent(last.spread_share)} on {last.held_on}; bias {_percent(first.bias_share)} then, "
        f"{_percent(last.bias_share)} now.",
        build=lambda width_px: _spec(days, width_px),
    )


def _percent(share: float) -> str:
    return "not known" if not math.isfinite(share) else f"{100.0 * share:.0f} %"


def _spec(days: Sequence[Day], width_px: int) -> Spec:
    sheet = Sheet()
    rows = [
        {
            "k": number,
            "spread": 100.0 * day.spread_share,
            "low": 100.0 * max(day.spread_share - 2.0 * day.spread_sd, 0.0),
            "high": 100.0 * (day.spread_share + 2.0 * day.spread_sd),
            "bias": 100.0 * day.bias_share if math.isfinite(day.bias_share) else None,
        }
        for number, day in enumerate(days)
    ]
    named = evenly_picked(len(days), max(2, width_px // 110))
    names = " : ".join(f"datum.value == {k} ? '{days[k].held_on}'" for k in named)
    x = alt.X(
        "k:Q",
        scale=alt.Scale(domain=[-0.5, len(days) - 0.5], nice=False),
        axis=alt.Axis(title=None, values=named, labelExpr=f"{names} : ''", labelFlush=True, grid=False),
    )
    y = alt.Y("spread:Q", axis=alt.Axis(title="% of the distance", tickCount=5))
    layers = [
        sheet.marks([{"zero": 0}]).mark_rule(color=INK, strokeWidth=1).encode(y=alt.Y("zero:Q")),
        sheet.marks(rows)
        .mark_rule(color=THROUGH, strokeWidth=1.5)
        .encode(x=x, y=alt.Y("low:Q"), y2=alt.Y2("high")),
        sheet.marks(rows).mark_line(color=SOFT_INK, strokeWidth=0.75).encode(x=x, y=y),
        sheet.marks(rows)
        .mark_point(shape="circle", size=60, fill=THROUGH, stroke=PAPER, strokeWidth=1, opacity=1)
        .encode(x=x, y=y),
        sheet.marks([row for row in rows if row["bias"] is not None])
        .mark_point(shape="square", size=48, fill=PAPER, stroke=BACK, strokeWidth=1.75, opacity=1)
        .encode(x=x, y=alt.Y("bias:Q")),
    ]
    return sheet.spec(alt.layer(*layers).properties(width=width_px - 62, height=_HEIGHT_PX))
