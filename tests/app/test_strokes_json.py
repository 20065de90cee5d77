"""Strokes read back from what `assess --json` prints, and what is said of a file that is something else."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.app.assessment import assess_recording, assessment_dict
from pacewright.app.strokes_json import load_strokes, parse_strokes
from pacewright.core.errors import ReadError
from pacewright.simulate.sampling import record_trajectory
from pacewright.simulate.stroke_model import StrokeModel

STROKE: dict[str, Any] = {
    "kind": "putt",
    "events": {"takeaway_time_s": {"value": 1.0, "sd": 0.01}, "top_time_s": {"value": None, "sd": None}},
    "measures": {"time_ratio": {"value": 2.1, "sd": 0.05}, "downswing_time_s": 0.31},
    "quality": [{"code": "gap", "text": "30 ms are missing."}],
    "asked_length_m": 3.0,
}


def _file(*strokes: object) -> str:
    return json.dumps([{"schema": "pacewright.assessment/1", "source": "a.csv", "strokes": list(strokes)}])


def test_what_assess_prints_comes_back(tmp_path: Path) -> None:
    recording = record_trajectory([StrokeModel(), StrokeModel()], np.random.default_rng(1)).recording
    assessment = assess_recording(recording, asked_length_m=3.0)
    (tmp_path / "strokes.json").write_text(json.dumps([assessment_dict(assessment)]))
    back = load_strokes(tmp_path / "strokes.json")
    assert len(back) == len(assessment.strokes) == 2
    for stroke, original in zip(back, assessment.strokes, strict=True):
        assert (stroke.kind, stroke.index, stroke.asked_length_m) == (original.kind, original.index, 3.0)
        assert stroke.quality == original.quality
        for found, written in ((stroke.events, original.events), (stroke.measures, original.measures)):
            assert found.keys() == written.keys()
            for name, measure in found.items():
                assert (measure.value, measure.sd) == (written[name].value, written[name].sd)


def test_missing_and_unknown_things_are_passed_over() -> None:
    (stroke,) = parse_strokes(_file({**STROKE, "colour": "red"}), "x.json")
    assert set(stroke.events) == {"takeaway"}
    assert stroke.value("downswing_time_s") == 0.31
    assert np.isnan(stroke.sd("downswing_time_s"))
    (bare,) = parse_strokes(_file({}), "x.json")
    assert (bare.kind, dict(bare.measures), bare.source) == ("putt", {}, "a.csv")


def test_one_assessment_and_several_files_number_their_strokes_through() -> None:
    one = json.loads(_file(STROKE, STROKE))[0]
    assert [s.index for s in parse_strokes(json.dumps(one), "x.json")] == [0, 1]
    assert [s.index for s in parse_strokes(json.dumps([one, one]), "x.json")] == [0, 1, 2, 3]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("time_s,head_x_m\n0,1\n", "'x.json' is not JSON (line 1, column 1)"),
        ("[1]", "'x.json', assessment 1: it has no list of strokes"),
        ('{"strokes": 3}', "assessment 1: it has no list of strokes"),
        (_file(3), "assessment 1, stroke 1: it is not an object"),
        (_file(STROKE, {"kind": "drive"}), "stroke 2: kind 'drive' is neither putt nor rehearsal"),
        (_file({"measures": [1]}), "stroke 1: measures is not an object of figures"),
        (
            _file({"measures": {"time_ratio": {"value": "two"}}}),
            "stroke 1, time_ratio: 'two' is not a number that can be used",
        ),
        (_file({"measures": {"time_ratio": {"value": 1, "sd": -1}}}), "time_ratio: its sd is below zero"),
        (_file({"measures": {"time_ratio": True}}), "time_ratio: True is not a number"),
        ('[{"strokes": [{"measures": {"time_ratio": NaN}}]}]', "time_ratio: nan is not a number"),
        (_file({"quality": "gap"}), "stroke 1: quality is not a list"),
        (_file({"quality": [7]}), "stroke 1: 7 is not a remark"),
        (_file({"asked_length_m": 0}), "stroke 1: an asked length of 0 m is not above zero"),
        ("[" * 100_000, "is not JSON"),
        (_file({"measures": {"time_ratio": 10**400}}), "is not a number that can be used"),
        ("[" + "9" * 5000 + "]", "is not JSON"),
        (_file({"kind": ["putt"]}), "kind ['putt'] is neither"),
    ],
)
def test_a_message_names_the_file_and_the_place(text: str, says: str) -> None:
    with pytest.raises(ReadError) as error:
        parse_strokes(text, "x.json")
    assert says in str(error.value)


def test_a_file_that_is_not_there_or_not_text(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="No such file"):
        load_strokes(tmp_path / "no.json")
    (tmp_path / "b.json").write_bytes(b"\xff\xfe\x00\x80")
    with pytest.raises(ReadError, match="is not text"):
        load_strokes(tmp_path / "b.json")


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=5) | st.integers(),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(
                ["strokes", "kind", "events", "measures", "time_ratio", "value", "sd", "quality"]
            ),
            inner,
            max_size=4,
        )
    ),
    max_leaves=12,
)


@given(body=JSON)
def test_any_json_is_read_or_refused(body: object) -> None:
    said = "'x.json'"
    try:
        parse_strokes(json.dumps(body), "x.json")
    except ReadError as error:
        said = str(error)
    assert "'x.json'" in said
