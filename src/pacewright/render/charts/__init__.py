"""Charts of a report: one specification each, drawn at two widths for page and telephone."""

from __future__ import annotations

from pacewright.render.charts.answers import beat_drawing, change_drawing, shares_drawing
from pacewright.render.charts.drawing import Drawing
from pacewright.render.charts.places import station_drawing
from pacewright.render.charts.repeats import repeats_drawing
from pacewright.render.charts.single import dots_drawing, speed_drawing
from pacewright.render.charts.timing import timing_drawing
from pacewright.render.model import ReportModel

__all__ = ["Drawing", "report_drawings"]


def report_drawings(model: ReportModel) -> dict[str, Drawing]:
    """The charts for which the report has figures, by name: of strokes, station, and answers of putts."""
    made = {
        "change": change_drawing(model),
        "shares": shares_drawing(model),
        "beat": beat_drawing(model),
        "dots": dots_drawing(model),
        "speed": speed_drawing(model),
        "repeats": repeats_drawing(model),
        "timing": timing_drawing(model),
        "station": station_drawing(model),
    }
    return {name: drawing for name, drawing in made.items() if drawing is not None}
