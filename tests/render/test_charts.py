"""What the charts draw: equal time between dots, contact as a break, sides with a second cue."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import altair as alt
import jsonschema
import numpy as np
import pytest

from pacewright.render import look
from pacewright.render.charts import report_drawings
from pacewright.render.charts.single import DOT_STEP_S
from pacewright.render.model import ReportModel
from pacewright.render.svg import chart_svg, inline_svg
from tests.render.sample import sample_report


@pytest.fixture(scope="module")
def model() -> ReportModel:
    return sample_report()


def rows_of(spec: dict[str, Any]) -> list[list[dict[str, Any]]]:
    """Rows of data of a specification, in the order in which they were laid down."""
    return list(spec["datasets"].values())


def test_specifications_are_valid_vega_lite(model: ReportModel) -> None:
    root = alt.vegalite.v6.schema.core.load_schema()
    validator = jsonschema.Draft7Validator(root)
    for drawing in report_drawings(model).values():
        spec = drawing.narrow
        spec["datasets"] = {name: rows[:2] for name, rows in spec["datasets"].items()}
        spec["config"].pop("background")  # None (no ground) is right for Vega and missing in the schema
        assert list(validator.iter_errors(spec)) == []


def test_dots_are_equal_steps_of_time(model: ReportModel) -> None:
    spec = report_drawings(model)["dots"].wide
    row = model.rows[model.drawn_row or 0]
    curve = row.curve
    assert curve is not None
    dots = [r for rows in rows_of(spec) for r in rows if "way" in r]
    places = {way: np.array([r["x"] for r in dots if r["way"] == way]) / 100 for way in ("back", "through")}
    steps = round((row.finish_time_s - row.takeaway_time_s) / DOT_STEP_S)
    assert abs(len(dots) - steps) <= 1
    # Spacing is speed: the widest step of the downswing is the speed just before contact.
    through = places["through"]
    before = through[through <= 1e-9]
    assert np.diff(before)[-1] / DOT_STEP_S == pytest.approx(row.measures["impact_speed_m_s"].value, rel=0.01)
    assert np.all(np.diff(places["back"]) <= 1e-9)


def test_contact_breaks_the_line_of_speed(model: ReportModel) -> None:
    spec = report_drawings(model)["speed"].wide
    parts = {r["part"]: rows for rows in rows_of(spec) if rows for r in rows if "part" in r and len(rows) > 3}
    before, after = parts["through"][-1], parts["after"][0]
    assert before["t"] == after["t"] == pytest.approx(0.0, abs=1e-9)
    assert after["v"] / before["v"] == pytest.approx(0.8, abs=0.01)
    assert all(r["part"] == "after" for r in parts["after"])
    assert max(r["t"] for r in parts["through"]) <= 1e-9


def test_a_rehearsal_has_no_break(model: ReportModel) -> None:
    first = replace(model.rows[0], kind="rehearsal")
    drawings = report_drawings(replace(model, rows=(first, *model.rows[1:]), drawn_row=0, beat_times_s=()))
    assert "no ball" in drawings["speed"].alternative
    parts = {r["part"] for rows in rows_of(drawings["speed"].wide) for r in rows if "part" in r}
    assert parts == {"back", "through"}


def test_repeats_never_cross_contact(model: ReportModel) -> None:
    spec = report_drawings(model)["repeats"].wide
    lines = [r for rows in rows_of(spec) for r in rows if "line" in r]
    for row in lines:
        assert row["t"] <= 0 if row["line"].endswith("before") else row["t"] >= 0


def test_beyond_the_reference_has_a_shape_and_a_word(model: ReportModel) -> None:
    drawing = report_drawings(model)["timing"]
    sides = {r["side"] for rows in rows_of(drawing.wide) for r in rows if "side" in r}
    assert sides == {"inside", "above"}
    assert "▶" in drawing.caption
    assert "0 inside the reference 1.8 to 2.4" in drawing.alternative


def test_bars_are_95_percent(model: ReportModel) -> None:
    drawing = report_drawings(model)["timing"]
    points = [r for rows in rows_of(drawing.wide) for r in rows if "side" in r and r["value"] > 1.5]
    ratio = model.rows[0].measures["time_ratio"]
    assert points[0]["high"] - points[0]["low"] == pytest.approx(2 * 1.96 * ratio.sd)


@pytest.mark.parametrize("name", ["dots", "speed", "repeats", "timing", "station"])
@pytest.mark.parametrize("width", ["wide", "narrow"])
def test_charts_use_the_colours_of_the_field_book_and_fit(model: ReportModel, name: str, width: str) -> None:
    drawing = report_drawings(model)[name]
    svg = chart_svg(drawing.wide if width == "wide" else drawing.narrow)
    colours = set(re.findall(r"#[0-9a-f]{6}\b", svg))
    known = {
        getattr(look, key) for key in ("PAPER", "INK", "SOFT_INK", "RULE", "BAND", "BACK", "THROUGH", "BALL")
    }
    assert colours <= known
    assert "red" not in svg
    assert "green" not in svg
    asked = look.WIDE_PX if width == "wide" else look.NARROW_PX
    drawn = float(re.search(r'<svg[^>]* width="([\d.]+)"', svg)[1])  # type: ignore[index]
    assert 0.85 * asked <= drawn <= 1.1 * asked


def test_inline_pictures_keep_their_ids_apart(model: ReportModel) -> None:
    svg = chart_svg(report_drawings(model)["timing"].wide).replace(
        "</svg>", '<defs><clipPath id="clip1"></clipPath></defs><g clip-path="url(#clip1)"></g></svg>'
    )
    one, other = (inline_svg(svg, name, "What it shows & more") for name in ("one", "other"))
    ids = re.findall(r'\bid="([^"]+)"', one) + re.findall(r'\bid="([^"]+)"', other)
    assert {"one-clip1", "other-clip1"} <= set(ids)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r"url\(#([^)]+)\)", one)) <= set(ids)
    assert 'role="img" aria-label="What it shows &amp; more"' in one
    assert one.count("aria-") == 1
