"""A practice plan as one HTML file that asks nothing of the network, and as PDF, from the same words."""

from __future__ import annotations

import datetime
from importlib import resources

from pacewright.core.display import Units
from pacewright.core.plan import PracticePlan
from pacewright.render.html import font_faces
from pacewright.render.plan_page import plan_page
from pacewright.render.typeset import PAPER_NAMES, Paper, typeset


def plan_html(plan: PracticePlan, units: Units) -> str:
    """The plan as a page. All text is escaped; the page forbids itself any request."""
    import jinja2
    from markupsafe import Markup

    templates = resources.files("pacewright.render").joinpath("templates")
    environment = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    template = environment.from_string(templates.joinpath("plan.html").read_text("utf-8"))
    style = "".join(templates.joinpath(name).read_text("utf-8") for name in ("report.css", "plan.css"))
    return template.render(page=plan_page(plan, units), css=Markup(font_faces() + style))


def plan_pdf(plan: PracticePlan, units: Units, paper: Paper = "a4") -> bytes:
    """The plan on A4 or Letter, with page numbers. The same plan gives the same bytes."""
    dates = [session.date for session in plan.sessions if session.date is not None]
    date = dates[0] if dates else datetime.date(1970, 1, 1)
    return typeset("plan.typ", {"page": plan_page(plan, units), "paper": PAPER_NAMES[paper]}, date)
