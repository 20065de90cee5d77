"""A report as PDF, from the same charts and words as the page."""

from __future__ import annotations

from pacewright.render.charts import report_drawings
from pacewright.render.look import PAPER
from pacewright.render.model import ReportModel
from pacewright.render.page import report_page
from pacewright.render.svg import chart_svg
from pacewright.render.typeset import PAPER_NAMES, Paper, typeset


def report_pdf(model: ReportModel, paper: Paper = "a4") -> bytes:
    """The report on A4 or Letter, with page numbers and the definitions at its end."""
    charts = {
        name: {
            "title": drawing.title,
            "caption": drawing.caption,
            "alternative": drawing.alternative,
            "svg": chart_svg(drawing.wide).replace(PAPER, "#ffffff"),  # printed on white
        }
        for name, drawing in report_drawings(model).items()
    }
    data = {"page": report_page(model), "charts": charts, "paper": PAPER_NAMES[paper]}
    return typeset("report.typ", data, model.date)
