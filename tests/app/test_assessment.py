"""What an assessment refuses, and what it says of a recording without strokes."""

from __future__ import annotations

from pathlib import Path

import pytest

from pacewright.app.assessment import AssessOptions, ReadOptions, assess
from pacewright.core.errors import SettingsError

RECORDING = Path(__file__).parents[2] / "examples" / "hasty-10ft.csv"


@pytest.mark.parametrize("length_m", [-0.9, 0.0, 100.1, float("nan"), float("inf")])
def test_a_length_that_no_putt_has_is_refused(length_m: float) -> None:
    with pytest.raises(SettingsError, match="makes no sense"):
        AssessOptions(asked_length_m=(3.0, length_m))


def test_a_recording_that_points_away_from_the_target_gets_the_way_out(tmp_path: Path) -> None:
    header, *rows = RECORDING.read_text().splitlines()
    places = [k for k, name in enumerate(header.split(",")) if name.startswith(("head_x", "head_y", "ball"))]
    assert places
    turned = tmp_path / "turned.csv"
    turned.write_text("\n".join([header, *(_negated(row, places) for row in rows)]))
    (astray,) = assess([turned])
    assert astray.strokes == ()
    remark = astray.remarks[-1]
    assert remark.code == "no-stroke"
    assert "holds 10 strokes: x seems to point away from the target" in remark.text
    assert "--read target_axis=-x" in remark.text
    (mended,) = assess([turned], AssessOptions(read=ReadOptions(target_axis="-x")))
    (plain,) = assess([RECORDING])
    assert [s.measures for s in mended.strokes] == [s.measures for s in plain.strokes]
    (wrong,) = assess([RECORDING], AssessOptions(read=ReadOptions(target_axis="-x")))
    assert "--read target_axis=x on" in wrong.remarks[-1].text


def test_a_still_recording_gets_no_such_hint(tmp_path: Path) -> None:
    still = tmp_path / "still.csv"
    still.write_text("time_s,head_x_m\n" + "".join(f"{k / 240:.5f},0.0\n" for k in range(720)))
    (assessed,) = assess([still])
    assert [remark.code for remark in assessed.remarks] == ["no-stroke"]
    assert "target_axis" not in assessed.remarks[0].text


def _negated(row: str, places: list[int]) -> str:
    cells = row.split(",")
    for k in places:
        if cells[k]:
            cells[k] = cells[k][1:] if cells[k].startswith("-") else f"-{cells[k]}"
    return ",".join(cells)
