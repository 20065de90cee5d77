"""A chart with its words, and small helpers that all charts share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt
from altair.utils import schemapi

from pacewright.render.look import NARROW_PX, PAPER, WIDE_PX, chart_style

Spec = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A chart: ``build(width_px)`` gives its Vega-Lite specification for a total width.

    ``title`` and ``caption`` stand beside it, ``alternative`` says in words what it shows.
    """

    title: str
    caption: str
    alternative: str
    build: Callable[[int], Spec]

    @property
    def wide(self) -> Spec:
        """For a page or a desk."""
        return self._built(WIDE_PX)

    @property
    def narrow(self) -> Spec:
        """For a telephone."""
        return self._built(NARROW_PX)

    def _built(self, width_px: int) -> Spec:
        # Altair checks each part as it is made; the whole is checked once, in the tests.
        with schemapi.debug_mode(False):
            return self.build(width_px)


class Sheet:
    """Where a chart is drawn: keeps the rows of data apart from the marks, as named data sets.

    Altair copies and checks whatever passes through it, over and over; rows that it never sees cost nothing.
    """

    def __init__(self) -> None:
        self._rows: dict[str, list[dict[str, Any]]] = {}

    def marks(self, rows: Sequence[dict[str, Any]]) -> alt.Chart:
        """A chart on those rows of data, for its marks and encodings."""
        name = f"rows-{len(self._rows)}"
        self._rows[name] = list(rows)
        return alt.Chart(alt.NamedData(name=name))

    def words(
        self, rows: Sequence[dict[str, Any]], x: Any, y: Any, colour: str, *, size: int = 12, **text: Any
    ) -> list[alt.Chart]:
        """The ``text`` of each row on a paper-coloured edge, so that lines beneath do not cut it."""
        style: Spec = {"baseline": "middle", "fontSize": size, **text}
        chart = self.marks(rows)
        edge = chart.mark_text(stroke=PAPER, strokeWidth=4, strokeJoin="round", **style)
        return [
            layer.encode(x=x, y=y, text=alt.Text("text:N"))
            for layer in (edge, chart.mark_text(color=colour, **style))
        ]

    def spec(self, chart: Any) -> Spec:
        """The specification of a chart on this sheet, with the look of the field book."""
        spec: Spec = chart.to_dict(validate=False)
        return {**spec, "datasets": self._rows, "config": chart_style()}


def time_axis(title: str | None, width_px: int, *, grid: bool) -> alt.Axis:
    """Seconds from contact, signed, with a plain 0; ``title`` None leaves the labels out too."""
    return alt.Axis(
        title=title,
        labels=title is not None,
        labelExpr="datum.value == 0 ? '0' : format(datum.value, '+.1f')",
        tickCount=max(4, width_px // 75),
        grid=grid,
    )


def evenly_picked(count: int, most: int) -> list[int]:
    """At most ``most`` of ``count`` indices, evenly spread, first and last included."""
    if count <= most:
        return list(range(count))
    return sorted({round(k * (count - 1) / (most - 1)) for k in range(most)})
