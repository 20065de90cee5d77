"""The report as page and PDF: the same words, nothing from outside, no markup in names."""

from __future__ import annotations

import itertools
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pypdfium2
import pytest

from pacewright.core.display import column_decimals, format_measure, quantity_of
from pacewright.core.errors import SettingsError
from pacewright.core.measure import Measure
from pacewright.render.charts import report_drawings
from pacewright.render.html import report_html
from pacewright.render.page import name_strokes, report_page
from pacewright.render.pdf import report_pdf
from tests.render.sample import COLUMNS, sample_report

HOSTILE = '<script>alert(1)</script> #eval("1") $x^2$ *Åse* \\ “O’Neill” & {{ 7*7 }}'


class Reader(HTMLParser):
    """Collects tags, attributes and text of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def read_page(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    return reader


def pdf_text(data: bytes) -> str:
    document = pypdfium2.PdfDocument(data)
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


@pytest.fixture(scope="module")
def html() -> str:
    return report_html(sample_report())


@pytest.fixture(scope="module")
def pdf() -> bytes:
    return report_pdf(sample_report())


def test_page_asks_for_nothing_outside(html: str) -> None:
    assert not re.search(r"""(?:src|href|url)\s*[=(]\s*["']?\s*(?!data:|\#)[\w/.]""", html)
    assert not re.search(r"(?:https?:)?//[a-z]", re.sub(r"base64,[A-Za-z0-9+/=]+", "", html))
    assert "script" not in read_page(html).tags


def test_page_is_readable_without_sight(html: str) -> None:
    reader = read_page(html)
    assert ("html", "lang", "en") in reader.attributes
    levels = [int(tag[1]) for tag in reader.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later - earlier <= 1 for earlier, later in itertools.pairwise(levels))
    alternatives = [value for tag, name, value in reader.attributes if (tag, name) == ("svg", "aria-label")]
    assert len(alternatives) == reader.tags.count("svg") == 10
    assert all(len(text) > 40 for text in alternatives)
    ids = [value for _, name, value in reader.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    named = [v for _, name, value in reader.attributes if name == "aria-labelledby" for v in value.split()]
    assert set(named) <= set(ids)


def test_text_is_never_markup() -> None:
    model = sample_report(player=f"player {HOSTILE}")
    model = replace(
        model,
        recordings=(f"recording {HOSTILE}",),
        findings=(replace(model.findings[0], statement=f"finding {HOSTILE}"),),
        rows=(replace(model.rows[0], label=f"label {HOSTILE}"), *model.rows[1:3]),
        drawn_row=None,
        caution=f"caution {HOSTILE}",
    )
    html = report_html(model)
    assert "script" not in read_page(html).tags
    assert "<script" not in html
    text, shown = "".join(read_page(html).text), pdf_text(report_pdf(model))
    for field in ("player", "recording", "finding", "label", "caution"):
        assert f"{field} {HOSTILE}" in text
        assert f"{field} <script>" in shown
    assert '#eval("1") $x^2$ *Åse* \\' in shown
    assert "{{ 7*7 }}" in shown


def test_both_show_every_figure_with_its_uncertainty(html: str, pdf: bytes) -> None:
    model = sample_report()
    page_text, paper_text = " ".join("".join(read_page(html).text).split()), pdf_text(pdf)
    for row in model.rows:
        for name in COLUMNS:
            sds = [r.measures[name].sd for r in model.rows if name in r.measures]
            most = column_decimals(sds, quantity_of(name), model.units)
            figure = format_measure(name, row.measures.get(name), model.units, most_decimals=most)
            for text in (figure.value, f"± {figure.sd}" if figure.sd else ""):
                assert text in page_text
                assert text in paper_text
    for finding in model.findings:
        for text in (finding.statement, finding.evidence, finding.advice):
            assert text in page_text
            assert text.replace("-", "") in paper_text.replace("-", "").replace("\ufffe", "")


def test_both_explain_every_figure_they_show(html: str, pdf: bytes) -> None:
    for definition in sample_report().definitions:
        assert definition.definition in " ".join(read_page(html).text)
        assert f"docs/methods/{definition.method}.md" in pdf_text(pdf)


def test_pages_of_the_pdf_are_numbered(pdf: bytes) -> None:
    document = pypdfium2.PdfDocument(pdf)
    for number, page in enumerate(document, start=1):
        assert f"{number} of {len(document)}" in page.get_textpage().get_text_range()


def test_letter_paper() -> None:
    width, height = pypdfium2.PdfDocument(report_pdf(sample_report(), "letter"))[0].get_size()
    assert (width, height) == (612.0, 792.0)


def test_same_model_same_bytes(pdf: bytes) -> None:
    assert report_pdf(sample_report()) == pdf


def test_imperial_report_shows_no_metric_stroke() -> None:
    page = report_page(sample_report("imperial"))
    units = {column["unit"] for column in page["table"]["head"]}
    assert units == {"s", "", "in", "ft/s", "ft/s²"}
    assert page["station"]["rows"][1]["putt"] == "10 ft (3.05 m)"
    axes = json.dumps([drawing.wide for drawing in report_drawings(sample_report("imperial")).values()])
    assert "speed, ft/s" in axes
    assert "from the back of the ball, in" in axes
    assert not re.search(r"\b(cm|m/s)\b", axes)


def test_many_strokes_make_a_report() -> None:
    model = sample_report(repeats=7)
    html = report_html(model)
    assert "40 of 63 strokes are drawn" in html
    assert len(html) < 2_000_000
    text = pdf_text(report_pdf(model))
    assert "63 putts" in text


def test_a_report_of_hand_timed_strokes_has_no_curve() -> None:
    model = sample_report()
    rows = tuple(replace(row, curve=None) for row in model.rows)
    bare = replace(model, rows=rows, drawn_row=None, station=None, findings=(), bands=(), spreads=())
    text = " ".join(read_page(report_html(bare)).text)
    assert "Nothing stands out" in text
    assert "One stroke" not in text
    assert "Practice station" not in text
    assert "Stroke by stroke" in pdf_text(report_pdf(bare))


def test_a_figure_without_definition_is_refused() -> None:
    with pytest.raises(SettingsError, match="ball_speed_m_s"):
        replace(sample_report(), columns=("ball_speed_m_s",))


def test_missing_figures_are_dashes_not_nan() -> None:
    model = sample_report()
    odd = replace(model.rows[0], measures={"time_ratio": Measure(float("nan"), float("nan"))})
    page = report_page(replace(model, rows=(odd, *model.rows[1:])))
    assert {cell["value"] for cell in page["table"]["rows"][0]["cells"]} == {"–"}
    assert "nan" not in json.dumps(page).lower()


def test_stroke_lists_are_short() -> None:
    assert name_strokes(["1", "2", "3", "5", "7", "8"]) == "1–3, 5, 7, 8"
    assert name_strokes(["R1", "2"]) == "R1, 2"
    assert name_strokes([]) == ""
