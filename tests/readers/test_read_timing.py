"""Strokes timed by hand: events or durations, what else was noted, and rows that make no sense."""

from __future__ import annotations

import io
import math

import pytest

from pacewright.core.errors import ReadError
from pacewright.readers import HAND_TIMING_SD_S, ReadOptions, read
from pacewright.stroke.analyse import analyse


def test_events_become_strokes() -> None:
    header = "takeaway_s;top_s;impact_s;finish_s;kind;asked_length_ft"
    text = f"{header}\n0,50;1,12;1,43;2,0;putt;10\n9,5;10,1;10,4;;rehearsal;\n"
    recording = read(io.StringIO(text))
    assert recording.kind == "timing"
    first, second = recording.timed_strokes
    assert first.event_times_s == {"takeaway": 0.5, "top": 1.12, "impact": 1.43, "finish": 2.0}
    assert first.timing_sd_s == HAND_TIMING_SD_S
    assert first.asked_length_m == pytest.approx(3.048)
    assert (first.is_rehearsal, second.is_rehearsal) == (False, True)
    assert math.isnan(second.event_times_s["finish"])
    assert second.asked_length_m is None


def test_durations_carry_the_uncertainty_of_two_presses() -> None:
    recording = read(io.StringIO("backswing_time_ms,downswing_time_ms,backswing_length_cm\n620,310,21\n"))
    measures = recording.timed_strokes[0].measures
    assert measures["backswing_time_s"].value == pytest.approx(0.62)
    assert measures["backswing_time_s"].sd == pytest.approx(math.sqrt(2) * 0.03)
    assert measures["backswing_length_m"].value == pytest.approx(0.21)
    stroke = analyse(recording)[0]
    assert stroke.value("time_ratio") == pytest.approx(2.0)


def test_the_uncertainty_is_taken_from_the_row_then_from_the_option() -> None:
    text = "takeaway_s,top_s,impact_s,timing_sd_ms\n0,0.6,0.9,12\n5,5.6,5.9,\n"
    recording = read(io.StringIO(text), ReadOptions(timing_sd_s=0.05))
    assert [timed.timing_sd_s for timed in recording.timed_strokes] == [0.012, 0.05]


def test_other_names_are_mapped() -> None:
    options = ReadOptions(columns={"takeaway_s": "start", "top_s": "back", "impact_s": "hit"})
    recording = read(io.StringIO("start,back,hit\n0,0.6,0.9\n"), options)
    assert recording.timed_strokes[0].event_times_s["impact"] == 0.9


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("0.5,1.2,1.1,", "line 3: top at 1.2 s and impact at 1.1 s cannot be of one stroke"),
        ("0.5,1.2,,", None),
        ("0.5,,,", "line 3: the row has no two times"),
        ("500,1120,1430,", "line 3: takeaway at 500 s and top at 1120 s cannot be .* Is the unit right"),
        ("0.5,soon,1.1,", "line 3: column 'top_s': 'soon' is not a number"),
        ("0.5,1.1", "line 3: the row is cut off: it has 2 cells where the header names 4"),
        ("0.5,soon,1.1,", r"Or leave bad rows out with drop_bad_rows \(--read drop_bad_rows=yes on the comm"),
        ("0.5,1.2,1.5,maybe", "line 3: column 'kind': 'maybe' is neither putt nor rehearsal"),
    ],
)
def test_a_row_that_makes_no_sense_is_named(row: str, why: str | None) -> None:
    file = io.StringIO(f"takeaway_s,top_s,impact_s,kind\n0,0.6,0.9,putt\n{row}\n")
    if why is None:
        assert len(read(file).timed_strokes) == 2
        return
    with pytest.raises(ReadError, match=why):
        read(file)
    file.seek(0)
    recording = read(file, ReadOptions(drop_bad_rows=True))
    assert len(recording.timed_strokes) == 1
    assert [remark.code for remark in recording.remarks] == ["bad-rows"]


def test_events_may_be_called_as_in_our_own_tables() -> None:
    text = "takeaway_time_s,top_time_ms,impact_time_s,finish_time_s\n0.5,1120,1.43,2.0\n"
    events = {"takeaway": 0.5, "top": 1.12, "impact": 1.43, "finish": 2.0}
    assert read(io.StringIO(text)).timed_strokes[0].event_times_s == events
    options = ReadOptions(columns={"takeaway_time_s": "a", "top_time_s": "b"})
    recording = read(io.StringIO("a,b\n0.5,1.12\n"), options)
    assert recording.timed_strokes[0].event_times_s["top"] == 1.12


def test_options_without_use_for_times_are_told() -> None:
    options = ReadOptions(marker="X", rate_hz=240)
    recording = read(io.StringIO("takeaway_s,top_s,impact_s\n0,0.6,0.9\n"), options)
    assert [remark.code for remark in recording.remarks] == ["option-ignored"]
    assert "rate_hz (--rate), marker (--marker)" in recording.remarks[0].text
