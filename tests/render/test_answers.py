"""What putts say, on page and paper: words, tables and charts with their intervals."""

from __future__ import annotations

import json
from dataclasses import replace

import altair as alt
import jsonschema
import pytest

from pacewright.render.charts import report_drawings
from pacewright.render.html import report_html
from pacewright.render.model import Answer, Figure, ReportModel, Table
from pacewright.render.pdf import report_pdf
from tests.render.sample import sample_report
from tests.render.test_report import HOSTILE, pdf_text, read_page

SHARES = Answer(
    question="shares",
    source="From monday.csv (100 putts).",
    statement="The distance varies by 8.9 %, most of all through timing.",
    sentences=("From 100 putts: spread 8.9 % of the distance.",),
    tables=(Table(("Cause", "Share of variance"), (("Timing", "46 %"), ("Strike", "−3 %"))),),
    further=("The time is the same for all lengths; the evidence is strong.",),
    notes=("3 putts were holed.",),
    figures=(
        Figure("Timing", 0.46, 0.38, 0.57),
        Figure("Strike with shape of the stroke", -0.03, -0.1, 0.05),
    ),
)
CHANGE = Answer(
    question="change",
    source="tuesday.csv (60 putts), against monday.csv (100 putts).",
    statement="No clear change in the spread of distance (8.1 % of the length now, 8.9 % before).",
    figures=(Figure("Retention", 0.9, 0.6, 1.4),),
)
BEAT = Answer(
    question="beat",
    source="From blocks.csv (150 putts).",
    statement="Settled: 84 beats a minute suits this player's distance control best.",
    figures=(Figure("80 beats", 0.08, 0.06, 0.11), Figure("90 beats", 0.1, 0.08, 0.14)),
    places=(80.0, 90.0),
    chosen=84.0,
)


@pytest.fixture(scope="module")
def model() -> ReportModel:
    return replace(sample_report(), answers=(CHANGE, SHARES, BEAT))


def test_page_and_paper_say_all_of_it(model: ReportModel) -> None:
    page, paper = " ".join(" ".join(read_page(report_html(model)).text).split()), pdf_text(report_pdf(model))
    for answer in model.answers:
        for text in (answer.source, answer.statement, *answer.sentences, *answer.further, *answer.notes):
            assert text in page
            assert text in paper
    for cell in ("Share of variance", "46 %", "−3 %"):
        assert cell in page
        assert cell in paper


def test_each_chart_says_its_figures_with_intervals_in_words(model: ReportModel) -> None:
    drawings = report_drawings(model)
    assert "Timing: 46 % of the variance, between 38 and 57 %." in drawings["shares"].alternative
    assert "Retention: 90 % of the spread before, between 60 and 140 %." in drawings["change"].alternative
    assert "80 beats: 8 % of the distance" in drawings["beat"].alternative
    assert "makes up for others" in drawings["shares"].caption
    with_all_above = replace(model, answers=(replace(SHARES, figures=SHARES.figures[:1]),))
    assert "makes up for others" not in report_drawings(with_all_above)["shares"].caption


@pytest.mark.parametrize("name", ["shares", "change", "beat"])
def test_charts_are_whole_and_carry_no_verdict_in_red_or_green(model: ReportModel, name: str) -> None:
    validator = jsonschema.Draft7Validator(alt.vegalite.v6.schema.core.load_schema())
    for made in (report_drawings(model)[name].wide, report_drawings(model)[name].narrow):
        spec = {**made, "config": {k: v for k, v in made["config"].items() if k != "background"}}
        assert list(validator.iter_errors(spec)) == []
        colours = set(json.dumps(spec).split('"')) & {"red", "green", "#ff0000", "#00ff00", "#008000"}
        assert not colours


def test_without_figures_there_is_no_chart_and_without_strokes_no_table(model: ReportModel) -> None:
    bare = replace(
        model, rows=(), drawn_row=None, station=None, findings=(), spreads=(),
        answers=tuple(replace(answer, figures=(), places=()) for answer in model.answers),
    )  # fmt: skip
    assert not {"shares", "change", "beat"} & set(report_drawings(bare))
    for text in (" ".join(read_page(report_html(bare)).text), pdf_text(report_pdf(bare))):
        assert "Stroke by stroke" not in text
        assert "What stands out" not in text
        assert SHARES.statement in text


def test_words_are_never_markup(model: ReportModel) -> None:
    hostile = replace(
        model, answers=(replace(SHARES, statement=f"said {HOSTILE}", source=HOSTILE, notes=(HOSTILE,)),)
    )
    html = report_html(hostile)
    assert "<script" not in html
    assert f"said {HOSTILE}" in "".join(read_page(html).text)
    assert "said <script>" in pdf_text(report_pdf(hostile))
