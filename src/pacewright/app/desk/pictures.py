"""Charts of stored figures for a page: the specifications of the report as SVG, each with its words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any
from uuid import UUID

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.reports import ReportRequest
from pacewright.app.report import CAUTION
from pacewright.core.display import Units
from pacewright.core.errors import NotFoundError
from pacewright.render.charts import Drawing, report_drawings
from pacewright.render.charts.days import Day, days_drawing
from pacewright.render.look import font_folder
from pacewright.render.model import Answer, Figure, ReportModel
from pacewright.render.svg import chart_svg, inline_svg

OF_A_STORY = ("shares", "change", "beat", "days")
OF_A_SESSION = ("repeats", "timing")


@dataclass(frozen=True, slots=True)
class Picture:
    """A chart: what stands beside it, the words for who cannot see it, and SVG for a desk and a telephone."""

    name: str
    title: str
    caption: str
    alternative: str
    wide: str
    narrow: str


def font_file(name: str) -> Path:
    """A bundled font for the browser. Raises NotFoundError for anything else."""
    path = font_folder() / name
    if path.suffix != ".woff2" or path.parent != font_folder() or not path.is_file():
        raise NotFoundError("There is no such font.")
    return path


def story_pictures(desk: Desk, player_id: UUID, names: Sequence[str]) -> dict[str, Picture]:
    """Of ``names`` (`OF_A_STORY`) what the story of a player can draw; drawn once, then kept."""
    found = {
        name: desk.story.kept(player_id, f"picture {name}", partial(_story_picture, desk, player_id, name))
        for name in names
        if name in OF_A_STORY
    }
    return {name: Picture(**body) for name, body in found.items() if body}


def session_pictures(desk: Desk, session_id: UUID, units: Units) -> dict[str, Picture]:
    """Of `OF_A_SESSION` what the strokes of a session can draw; drawn once, then kept.

    Raises QualityError when there is no stroke.
    """
    player_id = desk.sessions.get(session_id).player_id

    def draw() -> dict[str, Any]:
        drawings = report_drawings(desk.reports.model(ReportRequest((session_id,), units=units)))
        return {name: _picture(name, drawings[name]) for name in OF_A_SESSION if name in drawings}

    kept = desk.story.kept(player_id, f"pictures {units} {session_id}", draw)
    return {name: Picture(**body) for name, body in kept.items()}


def _story_picture(desk: Desk, player_id: UUID, name: str) -> dict[str, str]:
    """The body of a picture; empty where there are no figures for it."""
    figures = desk.story.figures(player_id)
    if name == "days":
        drawing = days_drawing(
            [
                Day(day["held_on"], day["spread_share"], _number(day["bias_share"]), day["putts"])
                for day in figures["days"]
                if day["spread_share"] is not None
            ]
        )
    else:
        drawing = report_drawings(_model_of(tuple(_answers(figures)))).get(name)
    return {} if drawing is None else _picture(name, drawing)


def _picture(name: str, drawing: Drawing) -> dict[str, str]:
    return {
        "name": name, "title": drawing.title, "caption": drawing.caption, "alternative": drawing.alternative,
        "wide": inline_svg(chart_svg(drawing.wide), name, drawing.alternative),
        "narrow": inline_svg(chart_svg(drawing.narrow), f"{name}-narrow", drawing.alternative),
    }  # fmt: skip


def _model_of(answers: tuple[Answer, ...]) -> ReportModel:
    """A report that holds these answers and nothing else."""
    import datetime

    return ReportModel(
        title="", player="", date=datetime.date.today(), units="metric", recordings=(), rows=(), columns=(),
        caution=CAUTION, definitions=(), answers=answers,
    )  # fmt: skip


def _answers(figures: Mapping[str, Any]) -> list[Answer]:
    found = []
    budget, tempo, change = (figures[name] for name in ("budget", "tempo", "progress"))
    if budget["body"] is not None:
        found.append(Answer("shares", "", budget["statement"], figures=_shares(budget)))
    if change["body"] is not None:
        found.append(Answer("change", "", change["statement"], figures=_ratios(change["body"])))
    if tempo["body"] is not None:
        found.append(_beat(tempo))
    return found


def _shares(budget: Mapping[str, Any]) -> tuple[Figure, ...]:
    """The causes with a share, under the names that the table gives them."""
    names = [row[0].strip() for row in budget["rows"]["metric"]]
    shares = budget["body"]["shares"]
    return tuple(
        Figure(name[:1].upper() + name[1:], share["value"], share["low"], share["high"])
        for cause, name in zip(budget["body"]["causes"], names, strict=True)
        if None not in (share := shares[cause["name"]]).values()
    )


def _ratios(body: Mapping[str, Any]) -> tuple[Figure, ...]:
    named = {"Last session": body["spread_ratio"]}
    named |= {word.capitalize(): phase["spread_ratio"] for word, phase in body["phases"].items()}
    return tuple(
        Figure(name, ratio["value"], ratio["low"], ratio["high"])
        for name, ratio in named.items()
        if None not in (ratio["value"], ratio["low"], ratio["high"]) and ratio["low"] > 0.0
    )


def _beat(tempo: Mapping[str, Any]) -> Answer:
    body = tempo["body"]
    known = [one for one in body["beats"] if None not in one["spread_share"].values()]
    return Answer(
        "beat", "", tempo["statement"],
        figures=tuple(
            Figure(
                f"{one['beats_per_minute']:g} beats", one["spread_share"]["value"],
                one["spread_share"]["low"], one["spread_share"]["high"],
            )
            for one in known
        ),
        places=tuple(one["beats_per_minute"] for one in known),
        chosen=_number(body["beats_per_minute"]),
    )  # fmt: skip


def _number(value: float | None) -> float:
    return math.nan if value is None else value
