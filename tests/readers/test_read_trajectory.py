"""Trajectories: units, times, mirrored players, angles on an arc, and what the recording says of itself."""

from __future__ import annotations

import hashlib
import io

import numpy as np
import pytest

from pacewright.core.errors import ReadError, SettingsError
from pacewright.core.recording import FloatArray
from pacewright.readers import ReadOptions, read


def swing_m(time_s: FloatArray) -> FloatArray:
    return 0.25 * np.sin(2 * np.pi * 0.7 * time_s)


def text_of(columns: dict[str, FloatArray]) -> io.StringIO:
    lines = [",".join(columns)]
    lines += [",".join(f"{value:.9g}" for value in row) for row in zip(*columns.values(), strict=True)]
    return io.StringIO("\n".join(lines))


def codes(recording: object) -> list[str]:
    return [remark.code for remark in recording.remarks]  # type: ignore[attr-defined]


TIME = np.arange(600) / 240


def test_a_clean_file_has_nothing_to_remark_and_tells_where_it_came_from() -> None:
    file = text_of({"time_s": np.round(TIME, 7), "head_x_mm": swing_m(TIME) * 1000})
    recording = read(file, name="putts.csv")
    assert recording.kind == "trajectory"
    assert recording.remarks == ()
    assert recording.provenance.source == "putts.csv"
    assert recording.provenance.reader == "trajectory-csv"
    assert recording.provenance.sha256 == hashlib.sha256(file.getvalue().encode()).hexdigest()
    np.testing.assert_allclose(recording.traces["head"].axis("x"), swing_m(TIME), atol=1e-9)


def test_without_times_the_rate_gives_them_and_missing_rows_keep_their_place() -> None:
    x = swing_m(TIME).copy()
    x[100:103] = np.nan
    with pytest.raises(ReadError, match=r"no column of times.*--rate"):
        read(text_of({"head_x_m": x}))
    recording = read(text_of({"head_x_m": x}), ReadOptions(rate_hz=240))
    np.testing.assert_allclose(recording.traces["head"].time_s, np.delete(TIME, [100, 101, 102]))
    assert recording.provenance.settings == {"rate_hz": "240"}


def test_a_rate_that_is_given_replaces_the_times_of_the_file() -> None:
    recording = read(text_of({"time_s": TIME, "head_x_m": swing_m(TIME)}), ReadOptions(rate_hz=120))
    assert recording.rate_hz == pytest.approx(120)


def test_a_left_handed_player_is_mirrored_across_the_target_line() -> None:
    columns = {"time_s": TIME, "head_x_m": swing_m(TIME), "head_y_m": 0.1 * swing_m(TIME)}
    columns |= {"ball_x_m": 0 * TIME, "ball_y_m": 0 * TIME + 0.02}
    right = read(text_of(columns))
    left = read(text_of(columns), ReadOptions(left_handed=True))
    assert (right.mirrored, left.mirrored) == (False, True)
    for name in ("head", "ball"):
        np.testing.assert_allclose(left.traces[name].axis("x"), right.traces[name].axis("x"))
        np.testing.assert_allclose(left.traces[name].axis("y"), -right.traces[name].values[:, 1])
    assert codes(left) == ["left-handed-mirrored"]


def test_an_angle_becomes_a_place_on_the_arc() -> None:
    angle = 0.3 * np.sin(2 * np.pi * 0.7 * TIME)
    file = text_of({"time_s": TIME, "head_angle_deg": np.degrees(angle)})
    with pytest.raises(ReadError, match="give the arc radius"):
        read(file)
    file.seek(0)
    recording = read(file, ReadOptions(arc_radius_m=1.2, arc_radius_sd_m=0.012))
    head = recording.traces["head"]
    assert head.axes == ("x", "z")
    np.testing.assert_allclose(
        head.values, np.column_stack([1.2 * np.sin(angle), 1.2 * (1 - np.cos(angle))]), atol=1e-7
    )
    # Every place of the head is at the radius from the axis above it.
    np.testing.assert_allclose(np.hypot(head.values[:, 0], 1.2 - head.values[:, 1]), 1.2, atol=1e-9)
    assert recording.scale_relative_sd == pytest.approx(0.01)


def test_single_spikes_are_left_out_and_told() -> None:
    x = swing_m(TIME).copy()
    x[[40, 300]] = 1e9, -4e5
    recording = read(text_of({"time_s": TIME, "head_x_m": x}))
    assert recording.traces["head"].time_s.size == 598
    assert codes(recording) == ["out-of-range", "missing-samples"]
    assert "line 42, column 'head_x_m', 1e+09" in recording.remarks[0].text


def test_a_few_rows_out_of_order_are_put_in_order() -> None:
    order = np.arange(TIME.size)
    order[[200, 201]] = order[[201, 200]]
    order[[50, 450]] = order[[450, 50]]
    recording = read(text_of({"time_s": TIME[order], "head_x_m": swing_m(TIME[order])}))
    np.testing.assert_allclose(recording.traces["head"].values[:, 0], swing_m(TIME), atol=1e-8)
    assert codes(recording) == ["unsorted-times"]
    assert "line 53" in recording.remarks[0].text


def test_a_clock_that_starts_again_is_carried_on() -> None:
    times = np.concatenate([TIME, TIME, TIME])
    recording = read(text_of({"time_s": times, "head_x_m": swing_m(times)}))
    head = recording.traces["head"]
    assert head.time_s.size == 1800
    # Nothing but the gap lies between the parts, so that no stroke spans a restart.
    assert np.sort(np.diff(head.time_s))[-2:] == pytest.approx([1.0, 1.0])
    assert codes(recording) == ["clock-reset", "gap"]


def test_rows_of_one_time_are_merged() -> None:
    twice = np.repeat(TIME, 2)
    x = np.where(np.arange(1200) % 2 == 0, swing_m(twice), np.nan)
    ball = np.where(np.arange(1200) % 2 == 1, 0.001 * twice, np.nan)
    recording = read(text_of({"time_s": twice, "head_x_m": x, "ball_x_m": ball}))
    np.testing.assert_allclose(recording.traces["head"].values[:, 0], swing_m(TIME), atol=1e-8)
    np.testing.assert_allclose(recording.traces["ball"].values[:, 0], 0.001 * TIME, atol=1e-8)
    assert codes(recording) == ["repeated-times"]


def test_times_in_whole_milliseconds_go_back_on_their_clock() -> None:
    recording = read(text_of({"time_ms": np.round(TIME * 1000), "head_x_m": swing_m(TIME)}))
    assert codes(recording) == ["clock-regularised"]
    assert recording.rate_hz == pytest.approx(240, rel=1e-4)
    np.testing.assert_allclose(recording.traces["head"].time_s, TIME, atol=6e-5)


def test_times_that_truly_jitter_are_kept() -> None:
    jittered = np.sort(TIME + np.random.default_rng(3).normal(0, 0.0004, TIME.size))
    recording = read(text_of({"time_s": jittered, "head_x_m": swing_m(jittered)}))
    assert recording.remarks == ()
    np.testing.assert_allclose(recording.traces["head"].time_s, jittered, atol=1e-8)


def test_gaps_are_told_with_place_and_length() -> None:
    kept = np.r_[0:200, 260:400, 403:600]
    recording = read(text_of({"time_s": TIME[kept], "head_x_m": swing_m(TIME[kept])}))
    assert codes(recording) == ["gap"]
    assert recording.remarks[0].text == (
        "2 gaps in time; the longest lasts 0.254 s, after 0.829 s; others after 1.663 s."
    )


def test_an_axis_that_is_hardly_there_is_left_out_rather_than_the_samples() -> None:
    z = np.full(TIME.size, np.nan)
    z[:50] = 0.0
    recording = read(text_of({"time_s": TIME, "head_x_m": swing_m(TIME), "head_z_m": z}))
    assert recording.traces["head"].axes == ("x",)
    assert recording.traces["head"].time_s.size == TIME.size


@pytest.mark.parametrize(
    ("ours", "theirs"), [("head_x_mm", "X1"), ("HEAD_X_MM", "x1"), ("head_x_mm", "3"), ("head_x", "X2 (mm)")]
)
def test_other_names_are_mapped(ours: str, theirs: str) -> None:
    x = swing_m(TIME) * 1000
    file = text_of({"zeit": TIME, "other": 0 * TIME, "X1": x, "X2 (mm)": x})
    recording = read(file, ReadOptions(columns={"time_s": "zeit", ours: theirs}))
    np.testing.assert_allclose(recording.traces["head"].values[:, 0], swing_m(TIME), atol=1e-9)


@pytest.mark.parametrize(
    "names", [("timestamp", "seconds_elapsed"), ("time_s", "time"), ("Time (s)", "clock")]
)
def test_of_two_clocks_the_one_that_tells_its_unit_is_taken(names: tuple[str, str]) -> None:
    told = next(name for name in names if "s" in name and name not in ("timestamp", "time"))
    clocks = {name: TIME if name == told else 1e9 * TIME for name in names}
    recording = read(text_of(clocks | {"head_x_m": swing_m(TIME)}))
    assert recording.rate_hz == pytest.approx(240, rel=1e-4)


@pytest.mark.parametrize(
    ("columns", "why"),
    [
        ({"head_x_m": "Y9"}, "no column 'Y9' to use as head_x_m; the file has 'time_s', 'X1'"),
        ({"head_x_m": "7"}, "no column '7'"),
        ({"head_x": "X1"}, "has no unit of length in its name"),
        ({"head_x_m": "X1", "head_x_mm": "X1"}, "both mean head_x"),
    ],
)
def test_a_mapping_that_does_not_fit_the_file_is_refused(columns: dict[str, str], why: str) -> None:
    with pytest.raises(ReadError, match=why):
        read(text_of({"time_s": TIME, "X1": swing_m(TIME)}), ReadOptions(columns=columns))


def test_a_mapping_goes_before_what_a_column_is_called() -> None:
    file = text_of({"time_s": TIME, "head_x_m": 0 * TIME, "smoothed": swing_m(TIME)})
    recording = read(file, ReadOptions(columns={"head_x_m": "smoothed"}))
    np.testing.assert_allclose(recording.traces["head"].values[:, 0], swing_m(TIME), atol=1e-9)


@pytest.mark.parametrize(
    "options",
    [
        {"rate_hz": 0.0},
        {"rate_hz": float("nan")},
        {"arc_radius_m": -1.0},
        {"up_axis": "w"},
        {"decimal": "'"},
        {"timing_sd_s": 0.0},
        {"target_axis": "north"},
        {"arc_radius_sd_m": -0.1},
    ],
)
def test_options_that_make_no_sense_are_refused(options: dict[str, object]) -> None:
    with pytest.raises(SettingsError):
        ReadOptions(**options)  # type: ignore[arg-type]


def test_options_without_use_for_a_table_are_told() -> None:
    columns = {"time_s": TIME, "head_x_m": swing_m(TIME)}
    recording = read(text_of(columns), ReadOptions(marker="X", arc_radius_m=1.3, up_axis="z"))
    assert codes(recording) == ["option-ignored"]
    told = recording.remarks[0].text
    assert "marker (--marker), up_axis (--read up_axis), arc_radius_m (--arc-radius)" in told
    on_arc = {"time_s": TIME, "head_angle_rad": swing_m(TIME)}
    assert codes(read(text_of(on_arc), ReadOptions(arc_radius_m=1.3))) == []


def test_places_whose_x_points_away_from_the_target_are_turned() -> None:
    columns = {
        "time_s": TIME, "head_x_m": -swing_m(TIME), "head_y_m": 0.1 * TIME, "head_z_m": 0.2 * TIME,
        "ball_x_m": TIME, "ball_y_m": -TIME,
    }  # fmt: skip
    recording = read(text_of(columns), ReadOptions(target_axis="-x"))
    head, ball = recording.traces["head"], recording.traces["ball"]
    np.testing.assert_allclose(
        head.values, np.column_stack([swing_m(TIME), -0.1 * TIME, 0.2 * TIME]), atol=1e-8
    )
    np.testing.assert_allclose(ball.values, np.column_stack([-TIME, TIME]), atol=1e-8)
    assert recording.provenance.settings == {"target_axis": "-x"}
    with pytest.raises(SettingsError, match="map other names"):
        read(text_of(columns), ReadOptions(target_axis="y"))


@pytest.mark.parametrize("limit_m", [0.1, 0.2])
def test_places_that_are_cut_off_are_told(limit_m: float) -> None:
    noise = np.random.default_rng(3).normal(0, 2e-4, TIME.size)
    cut = np.clip(swing_m(TIME) + noise, -limit_m, limit_m)
    recording = read(text_of({"time_s": TIME, "head_x_m": cut}))
    assert codes(recording) == ["clipped"]
    flat = [int((cut == side * limit_m).sum()) for side in (1, -1)]
    assert f"(x {flat[0]} samples at {limit_m} m, x {flat[1]} samples at -{limit_m} m)" in (
        recording.remarks[0].text
    )


@pytest.mark.parametrize("resolution_m", [1e-6, 1e-3, 1e-2])
def test_a_pause_at_the_top_and_a_rest_at_the_end_are_not_cut_off(resolution_m: float) -> None:
    # Back, a pause without any noise, forward and to rest: each way is a minimum-jerk move.
    share = np.clip(np.array([TIME - 0.2, TIME - 1.2]) / 0.6, 0, 1)
    way = 10 * share**3 - 15 * share**4 + 6 * share**5
    x = np.round((-0.3 * way[0] + 0.6 * way[1]) / resolution_m) * resolution_m
    assert codes(read(text_of({"time_s": TIME, "head_x_m": x}))) == []
