"""Files that are left behind: whole or not at all, and filled from what was assessed."""

from __future__ import annotations

import datetime
import math
from dataclasses import replace
from pathlib import Path

import pytest

from pacewright.app.assessment import Assessment
from pacewright.app.files import write_whole
from pacewright.app.outputs import BeatPlan, make_report, write_beats, write_report, write_strip
from pacewright.app.report import ReportOptions, green_text, report_model
from pacewright.core.errors import QualityError, SettingsError
from pacewright.core.finding import Finding
from pacewright.core.green import Green
from pacewright.core.measure import Measure, Remark
from pacewright.core.recording import Provenance, Recording, Trace
from pacewright.core.registry import MEASURES
from pacewright.core.stroke import Stroke
from tests.render.sample import row, sample_report, sample_station


def trace() -> Trace:
    import numpy as np

    return Trace(np.array([0.0, 1 / 240]), np.zeros((2, 1)), ("x",))


def stroke(index: int, ratio: float, *, kind: str = "putt", with_curve: bool = True) -> Stroke:
    made = row(index + 1, 10, 0.33 * ratio, 0.33, 0.26, 1.0)
    return Stroke(
        kind=kind,  # type: ignore[arg-type]
        events={
            "takeaway": Measure(10.0, 0.01),
            "top": Measure(10.0 + 0.33 * ratio, 0.01),
            "impact": Measure(10.33 + 0.33 * ratio, 0.001),
            "finish": Measure(11.0 + 0.33 * ratio, 0.01),
        },
        measures=made.measures,
        quality=(Remark("few-samples", "Few samples."), Remark("contact-not-seen", "No ball seen.")),
        curve=made.curve if with_curve else None,
        index=index,
        asked_length_m=3.048,
    )


FINDING = Finding("a", "act", "high", "Rushed.", "Ratio 3.", "Slow.", "Quicker.", "", stroke_indices=(1,))


def assessment(*strokes: Stroke, source: str = "/somewhere/private/day.csv") -> Assessment:
    recording = Recording("trajectory", {"head": trace()}, Provenance(source, "0" * 64, "trajectory"))
    return Assessment(source, recording, strokes, (FINDING,), (Remark("gap", "A gap."),))


def test_rows_are_numbered_through_and_timed_from_contact() -> None:
    model = report_model([assessment(stroke(0, 2.0)), assessment(stroke(0, 2.2), stroke(1, 2.4))])
    assert [row.label for row in model.rows] == ["1", "2", "3"]
    assert model.rows[0].takeaway_time_s == pytest.approx(-0.99)
    assert model.rows[0].top_time_s == pytest.approx(-0.33)
    assert model.rows[0].finish_time_s == pytest.approx(0.67)
    assert [remark.code for remark in model.rows[0].remarks] == ["few-samples"]
    assert len(model.recordings) == len(model.recording_remarks) == 2


def test_the_middle_putt_is_drawn_not_the_best_and_not_a_rehearsal() -> None:
    strokes = [stroke(0, 2.9), stroke(1, 2.1), stroke(2, 2.5), stroke(3, 2.45, kind="rehearsal")]
    assert report_model([assessment(*strokes)]).drawn_row == 2
    bare = [replace(one, curve=None) for one in strokes]
    assert report_model([assessment(*bare)]).drawn_row is None


def test_averages_leave_rehearsals_out() -> None:
    model = report_model([assessment(stroke(0, 2.0), stroke(1, 3.0), stroke(2, 9.0, kind="rehearsal"))])
    ratio = next(spread for spread in model.spreads if spread.measure == "time_ratio")
    assert (ratio.mean, ratio.count) == (pytest.approx(2.5), 2)
    assert ratio.between_sd == pytest.approx(math.sqrt(0.5))
    one = report_model([assessment(stroke(0, 2.0))])
    assert math.isnan(one.spreads[0].between_sd)


def test_every_figure_is_defined_and_every_band_has_a_source() -> None:
    model = report_model([assessment(stroke(0, 2.0))], ReportOptions(green=Green(3.048)))
    shown = {*model.columns, *(spread.measure for spread in model.spreads)}
    assert shown <= {definition.name for definition in model.definitions}
    assert {"back_marker_m", "through_marker_m"} <= {definition.name for definition in model.definitions}
    assert {band.measure for band in model.bands} <= set(MEASURES)
    assert all(band.source and band.low < band.high for band in model.bands)
    assert model.band("time_ratio") is not None


def test_a_report_names_the_file_and_not_the_folder() -> None:
    model = report_model([assessment(stroke(0, 2.0))])
    assert model.recordings == ("day.csv: path of the head, 240 samples a second",)


def test_station_for_the_lengths_asked_with_the_beats_of_the_drawn_stroke() -> None:
    options = ReportOptions(green=Green(3.048), beats_per_minute=80.0)
    model = report_model([assessment(stroke(0, 2.0), stroke(1, 2.2))], options)
    assert model.station is not None
    assert [putt.putt_length_m for putt in model.station.stations] == [3.048]
    start, back, through = model.beat_times_s
    assert back == pytest.approx(-0.33)
    assert through - back == pytest.approx(back - start) == pytest.approx(0.75)
    chosen = report_model([assessment(stroke(0, 2.0))], replace(options, putt_lengths_m=(0.9, 6.0)))
    assert chosen.station is not None
    assert [putt.putt_length_m for putt in chosen.station.stations] == [0.9, 6.0]
    assert report_model([assessment(stroke(0, 2.0))]).station is None


def test_green_in_words() -> None:
    assert green_text(None, "metric") == ""
    assert green_text(Green(3.048), "metric") == "3.05 m (10 ft), level"
    assert green_text(Green(3.048, slope_rad=math.atan(0.02)), "imperial") == "10 ft (3.05 m), 2 % uphill"
    assert green_text(Green(3.048, slope_rad=math.atan(-0.015)), "imperial").endswith("1.5 % downhill")


def test_a_pause_is_a_column_only_where_there_is_one() -> None:
    def paused(pause_s: float) -> Stroke:
        one = stroke(0, 2.0)
        return replace(one, measures={**one.measures, "top_pause_s": Measure(pause_s, 0.005)})

    assert "top_pause_s" in report_model([assessment(paused(0.15))]).columns
    assert "top_pause_s" not in report_model([assessment(paused(0.004))]).columns


@pytest.mark.parametrize("name", ["report.pdf", "report.html", "report.HTM"])
def test_the_ending_decides(tmp_path: Path, name: str) -> None:
    plain = replace(sample_report(), rows=(), drawn_row=None, station=None, findings=(), spreads=())
    write_report(plain, tmp_path / name)
    start = (tmp_path / name).read_bytes()[:15]
    assert start.startswith(b"%PDF" if name.endswith("pdf") else b"<!doctype html>")
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_a_wrong_ending_is_refused_before_the_work(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"\.pdf or \.html"):
        make_report([tmp_path / "missing.csv"], tmp_path / "report.docx")
    with pytest.raises(SettingsError, match="no folder"):
        make_report([tmp_path / "missing.csv"], tmp_path / "none" / "report.pdf")
    with pytest.raises(SettingsError, match=r"\.pdf"):
        write_strip(sample_station(), tmp_path / "strip.svg")
    with pytest.raises(SettingsError, match=r"\.wav or \.flac"):
        write_beats(BeatPlan(), tmp_path / "beats.ogg")
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_left_half_written(tmp_path: Path) -> None:
    target = tmp_path / "taken"
    target.mkdir()
    with pytest.raises(SettingsError, match=r"taken' cannot be written"):
        write_whole(target, b"data")
    assert list(tmp_path.iterdir()) == [target]
    with pytest.raises(SettingsError, match="cannot be written"):
        write_whole(tmp_path / "no-such-folder" / "file.pdf", b"data")


def test_a_recording_without_strokes_makes_no_report(tmp_path: Path) -> None:
    still = tmp_path / "still.csv"
    still.write_text("time_s,head_x_m\n" + "".join(f"{k / 240:.5f},0.0\n" for k in range(720)))
    with pytest.raises(QualityError, match="nothing to report"):
        make_report([still], tmp_path / "report.pdf")
    assert [path.name for path in tmp_path.iterdir()] == ["still.csv"]


def test_reports_are_dated() -> None:
    day = datetime.date(2025, 5, 17)
    assert report_model([assessment(stroke(0, 2.0))], ReportOptions(date=day)).date == day
    assert report_model([assessment(stroke(0, 2.0))]).date == datetime.date.today()
