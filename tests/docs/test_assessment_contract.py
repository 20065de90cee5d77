"""`assess --json` prints what `docs/contracts/assessment.schema.json` promises."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from pacewright.cli.main import run
from pacewright.core.registry import EVENTS, MEASURES
from pacewright.simulate.sampling import record_inertial, record_trajectory
from pacewright.simulate.stroke_model import StrokeModel

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "docs" / "contracts" / "assessment.schema.json").read_text())
PAGE = (ROOT / "docs" / "contracts" / "assessment-json.md").read_text()
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)
MODELS = [StrokeModel(backswing_length_m=length) for length in (0.12, 0.22, 0.3)]
STILL = "time_s,head_x_m\n" + "".join(f"{k / 100:.2f},0.001\n" for k in range(300))


def _trajectory(path: Path) -> None:
    head = record_trajectory(MODELS, np.random.default_rng(4)).recording.traces["head"]
    _write(path, "time_s,head_x_m,head_y_m", head.time_s, head.values)


def _inertial(path: Path) -> None:
    traces = record_inertial(MODELS, np.random.default_rng(5)).recording.traces
    names = [
        f"{kind}_{axis}_{unit}" for kind, unit in (("gyro", "rad_s"), ("accel", "m_s2")) for axis in "xyz"
    ]
    values = np.column_stack([traces["gyro"].values, traces["accel"].values])
    _write(path, ",".join(["time_s", *names]), traces["gyro"].time_s, values)


def _write(path: Path, header: str, time_s: np.ndarray, values: np.ndarray) -> None:
    np.savetxt(path, np.column_stack([time_s, values]), delimiter=",", fmt="%.6f", header=header, comments="")


def _printed(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> list[dict[str, Any]]:
    assert run(["assess", *arguments, "--json"]) == 0
    printed: list[dict[str, Any]] = json.loads(capsys.readouterr().out)
    VALIDATOR.validate(printed)
    return printed


def test_the_schema_is_a_schema_and_names_the_registry() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    stroke = SCHEMA["$defs"]["stroke"]["properties"]
    assert list(stroke["measures"]["properties"]) == list(MEASURES)
    assert list(stroke["events"]["properties"]) == [f"{event}_time_s" for event in EVENTS]


def test_the_page_explains_every_field() -> None:
    kinds: Mapping[str, Any] = SCHEMA["$defs"]
    fields = {name for kind in ("recording", "stroke", "finding") for name in kinds[kind]["properties"]}
    assert {name for name in fields if f"`{name}`" not in PAGE} == set()


def test_trajectory_and_inertial_recordings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _trajectory(tmp_path / "head.csv")
    _inertial(tmp_path / "sensor.csv")
    files = [str(tmp_path / "head.csv"), str(tmp_path / "sensor.csv")]
    printed = _printed([*files, "--arc-radius", "1.35m", "--green", "10ft"], capsys)
    assert [one["kind"] for one in printed] == ["trajectory", "inertial"]
    assert [len(one["strokes"]) for one in printed] == [3, 3]
    assert "roll_out_m" in printed[0]["strokes"][0]["measures"]


def test_a_recording_without_a_stroke_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "still.csv").write_text(STILL)
    (printed,) = _printed([str(tmp_path / "still.csv")], capsys)
    assert printed["strokes"] == []
    assert "no-stroke" in [remark["code"] for remark in printed["remarks"]]
