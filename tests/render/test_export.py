"""Strokes as CSV, and JSON without nan."""

from __future__ import annotations

import csv
import io
import json
import math

import numpy as np
import pytest

from pacewright.core.measure import Measure, Remark
from pacewright.core.registry import MEASURES
from pacewright.core.stroke import Stroke
from pacewright.render.export import json_ready, strokes_csv


def test_one_row_a_stroke_with_value_and_uncertainty() -> None:
    stroke = Stroke(
        kind="putt",
        events={"impact": Measure(12.5, 0.0004)},
        measures={"time_ratio": Measure(2.05, 0.04), "impact_speed_m_s": Measure(1.6, math.nan)},
        quality=(Remark("few-samples", "…"), Remark("no-ball", "…")),
        source='a "quoted", name.csv',
        index=2,
        asked_length_m=3.048,
    )
    rows = list(csv.DictReader(io.StringIO(strokes_csv([stroke]))))
    assert len(rows) == 1
    row = rows[0]
    assert row["source"] == 'a "quoted", name.csv'
    assert row["stroke"] == "3"
    assert (row["time_ratio"], row["time_ratio_sd"]) == ("2.05", "0.04")
    assert (row["impact_speed_m_s"], row["impact_speed_m_s_sd"]) == ("1.6", "")
    assert (row["impact_time_s"], row["impact_time_s_sd"]) == ("12.5", "0.0004")
    assert row["backswing_length_m"] == ""
    assert row["quality"] == "few-samples no-ball"
    assert {*MEASURES, *(f"{name}_sd" for name in MEASURES)} <= set(row)


def test_no_strokes_give_the_header_alone() -> None:
    assert strokes_csv([]).count("\n") == 1


def test_json_never_holds_nan() -> None:
    ready = json_ready(
        {
            "a": math.nan,
            "b": [np.float64(math.inf), np.int64(3)],
            "m": Measure(1.0, math.nan),
            "t": (True, None),
        }
    )
    text = json.dumps(ready, allow_nan=False)
    assert json.loads(text) == {
        "a": None,
        "b": [None, 3],
        "m": {"value": 1.0, "sd": None},
        "t": [True, None],
    }
    with pytest.raises(TypeError):
        json_ready(object())
