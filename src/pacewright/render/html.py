"""A report as one HTML file that asks nothing of the network: fonts, style and charts are inside it."""

from __future__ import annotations

import base64
from importlib import resources

from pacewright.render.charts import Drawing, report_drawings
from pacewright.render.look import SANS, SERIF, font_folder
from pacewright.render.model import ReportModel
from pacewright.render.page import report_page
from pacewright.render.svg import chart_svg, inline_svg

_FACES = (
    (SANS, 400, "IBMPlexSans-Regular-Latin1.woff2"),
    (SANS, 700, "IBMPlexSans-Bold-Latin1.woff2"),
    (SERIF, 400, "IBMPlexSerif-Regular-Latin1.woff2"),
    (SERIF, 700, "IBMPlexSerif-Bold-Latin1.woff2"),
)


def report_html(model: ReportModel) -> str:
    """The report as a page. All text of the model is escaped; the page forbids itself any request."""
    import jinja2
    from markupsafe import Markup

    templates = resources.files("pacewright.render").joinpath("templates")
    environment = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    template = environment.from_string(templates.joinpath("report.html").read_text("utf-8"))
    charts = {
        name: {
            "title": drawing.title,
            "caption": drawing.caption,
            "wide": Markup(_inline(drawing, name, narrow=False)),
            "narrow": Markup(_inline(drawing, f"{name}-narrow", narrow=True)),
        }
        for name, drawing in report_drawings(model).items()
    }
    css = font_faces() + templates.joinpath("report.css").read_text("utf-8")
    return template.render(page=report_page(model), charts=charts, css=Markup(css))


def _inline(drawing: Drawing, name: str, *, narrow: bool) -> str:
    svg = chart_svg(drawing.narrow if narrow else drawing.wide)
    return inline_svg(svg, name, drawing.alternative)


def font_faces() -> str:
    """The bundled fonts as data; characters beyond Latin fall back to the reader's own."""
    faces = []
    for family, weight, name in _FACES:
        data = base64.b64encode((font_folder() / name).read_bytes()).decode("ascii")
        faces.append(
            f'@font-face{{font-family:"{family}";font-weight:{weight};font-display:swap;'
            f'src:url(data:font/woff2;base64,{data}) format("woff2")}}\n'
        )
    return "".join(faces)
