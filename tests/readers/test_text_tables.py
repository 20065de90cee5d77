"""However a table is written, the same numbers come out of it."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pacewright.core.errors import ReadError
from pacewright.core.recording import FloatArray
from pacewright.readers import ReadOptions, read
from pacewright.readers.layout import find_layout
from pacewright.readers.text import line_blocks

RATE_HZ = 250.0
UNITS = {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "in": 0.0254, "ft": 0.3048}


def swing(count: int) -> FloatArray:
    """A head that swings a quarter of a metre each way, x and y, (count, 2)."""
    t = np.arange(count) / RATE_HZ
    return np.column_stack([0.25 * np.sin(2 * np.pi * 0.8 * t), 0.01 * np.cos(2 * np.pi * 0.8 * t)])


def written(rows: FloatArray, header: list[str], separator: str, decimal: str, end: str = "\n") -> str:
    cells = [[f"{value:.9f}".replace(".", decimal) for value in row] for row in rows]
    return end.join(separator.join(line) for line in [header, *cells]) + end


def table(count: int = 300) -> FloatArray:
    return np.column_stack([np.arange(count) / RATE_HZ, swing(count)])


@settings(max_examples=60, deadline=None)
@given(
    dialect=st.sampled_from(
        [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", "."), (" ", ".")]
    ),
    unit=st.sampled_from(sorted(UNITS)),
    time_unit=st.sampled_from([("s", 1.0), ("ms", 1e-3), ("us", 1e-6)]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"]),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
    preamble=st.lists(st.sampled_from(["# a comment", "Sensor: A7", "Größe 3", "", "// more"]), max_size=3),
    order=st.permutations([0, 1, 2]),
)
def test_what_is_written_in_any_dialect_is_read_back(
    dialect: tuple[str, str],
    unit: str,
    time_unit: tuple[str, float],
    encoding: str,
    end: str,
    preamble: list[str],
    order: list[int],
) -> None:
    separator, decimal = dialect
    truth = table(120)
    file_rows = truth / np.array([time_unit[1], UNITS[unit], UNITS[unit]])
    header = [f"time_{time_unit[0]}", f"head_x_{unit}", f"head_y_{unit}"]
    text = written(file_rows[:, order], [header[k] for k in order], separator, decimal, end)
    data = (end.join([*preamble, ""]) + text if preamble else text).encode(encoding)
    head = read(io.BytesIO(data)).traces["head"]
    np.testing.assert_allclose(head.time_s, truth[:, 0], atol=2e-9)
    np.testing.assert_allclose(head.values, truth[:, 1:], atol=1e-8)
    assert head.axes == ("x", "y")


@settings(max_examples=40, deadline=None)
@given(
    separator=st.sampled_from([",", ";", "\t", "|"]),
    missing=st.sets(st.integers(0, 119), max_size=25),
    word=st.sampled_from(["", "nan", "NaN", "NA", "n/a", "null", "-", "inf", "-Infinity"]),
)
def test_a_missing_cell_leaves_out_that_sample_and_no_other(
    separator: str, missing: set[int], word: str
) -> None:
    rows = table(120)
    lines = written(rows, ["time_s", "head_x_m", "head_y_m"], separator, ".").split("\n")
    for row in missing:
        cells = lines[row + 1].split(separator)
        cells[1 + row % 2] = word
        lines[row + 1] = separator.join(cells)
    recording = read(io.StringIO("\n".join(lines)))
    kept = [k for k in range(120) if k not in missing]
    np.testing.assert_allclose(recording.traces["head"].time_s, rows[kept, 0], atol=1e-9)
    np.testing.assert_allclose(recording.traces["head"].values, rows[kept, 1:], atol=1e-8)
    assert ("missing-samples" in {r.code for r in recording.remarks}) == bool(missing)


def test_head_and_ball_keep_times_of_their_own() -> None:
    rows = table(200)
    lines = ["time_s,head_x_m,ball_x_m,ball_y_m"]
    for k, (t, x, _) in enumerate(rows):
        head = "" if k in (50, 51) else f"{x:.6f}"
        ball = f"{0.01 * k:.3f},0.0" if 100 <= k < 150 else ","
        lines.append(f"{t:.4f},{head},{ball}")
    recording = read(io.StringIO("\n".join(lines)))
    assert recording.traces["head"].time_s.size == 198
    np.testing.assert_allclose(recording.traces["ball"].time_s, rows[100:150, 0])
    assert recording.traces["ball"].axes == ("x", "y")
    # Out of sight before and after is not missing.
    assert [r.text for r in recording.remarks if "ball" in r.text] == []


@pytest.mark.parametrize(
    ("head", "row", "decimal"),
    [
        pytest.param('"time_s","head_x_m"', '"{t}","{x}"', ",", id="quoted decimal commas between commas"),
        pytest.param("time_s;head_x_m;", "{t};{x};", ",", id="a separator at the end of each line"),
        pytest.param("sep=;\ntime_s;head_x_m", "{t};{x}", ",", id="a line for a spreadsheet"),
        pytest.param("time,head x\ns,m", "{t},{x}", ".", id="a line of units under the names"),
        pytest.param("Time (s)\tHead X [m]", "{t}\t{x}", ".", id="units in brackets"),
        pytest.param("Time / s;Putter x / m", "{t};{x}", ".", id="units after a stroke"),
        pytest.param("  time_s   head_x_m", "  {t}    {x}", ".", id="columns set with blanks"),
        pytest.param("# time_s,head_x_m", "{t},{x}", ".", id="names in a comment"),
        pytest.param("A. Novak, 3\nDate: 2024-05-01\ntime_s,head_x_m", "{t},{x}", ".", id="words above"),
        pytest.param("TIME_S , HEAD_X_M", "{t} , {x}", ".", id="capitals and blanks"),
        pytest.param("time_s,note,head_x_m", "{t},first try,{x}", ".", id="a column of words"),
        pytest.param("stamp,time_s,head_x_m", "2024-05-01 10:00:00,{t},{x}", ".", id="a column of dates"),
    ],
)
def test_tables_as_people_and_devices_write_them(head: str, row: str, decimal: str) -> None:
    rows = [
        row.format(t=f"{k / 100:.3f}".replace(".", decimal), x=f"{0.1 + 0.001 * k:.3f}".replace(".", decimal))
        for k in range(100)
    ]
    recording = read(io.StringIO("\n".join([head, *rows])))
    np.testing.assert_allclose(recording.traces["head"].values[:, 0], 0.1 + 0.001 * np.arange(100))
    np.testing.assert_allclose(recording.traces["head"].time_s, np.arange(100) / 100)


def test_a_fault_far_down_is_named_by_its_line() -> None:
    lines = written(table(60_000), ["time_s", "head_x_m", "head_y_m"], ",", ".").split("\n")
    lines.insert(3, "# a comment")
    lines.insert(3, "")
    lines[50_000] = lines[50_000].replace(lines[50_000].split(",")[1], "oops")
    with pytest.raises(ReadError, match=r"line 50001: column 'head_x_m': 'oops' is not a number"):
        read(io.StringIO("\n".join(lines)))


def test_bad_rows_are_left_out_when_that_is_asked() -> None:
    lines = written(table(100), ["time_s", "head_x_m", "head_y_m"], ",", ".").split("\n")
    lines[10], lines[20] = "0.04,??!,1", "1.5"
    recording = read(io.StringIO("\n".join(lines)), ReadOptions(drop_bad_rows=True))
    assert recording.traces["head"].time_s.size == 98
    assert [r.text for r in recording.remarks if r.code == "bad-rows"] == [
        "2 rows could not be read and were left out (lines 11, 21)."
    ]


def test_columns_without_names_are_mapped_by_number(tmp_path: Path) -> None:
    rows = table(100)
    path = tmp_path / "bare.txt"
    np.savetxt(path, rows * np.array([1, 100, 100]))
    with pytest.raises(ReadError, match=r"3 columns of numbers but no header.*--columns time_s=1"):
        read(path)
    recording = read(path, ReadOptions(columns={"time_s": "1", "head_x_cm": "2"}))
    np.testing.assert_allclose(recording.traces["head"].values[:, 0], rows[:, 1])


def test_progress_goes_up_to_one() -> None:
    text = written(table(200_000), ["time_s", "head_x_m", "head_y_m"], ",", ".")
    seen: list[float] = []
    read(io.StringIO(text), ReadOptions(progress=seen.append))
    assert seen == sorted(seen)
    assert seen[-1] == 1.0
    assert len(seen) > 1


@given(data=st.binary(max_size=200), size=st.integers(1, 40))
def test_blocks_hold_whole_lines_and_lose_nothing(data: bytes, size: int) -> None:
    import pacewright.readers.text as text_module

    old, text_module.BLOCK_BYTES = text_module.BLOCK_BYTES, size
    try:
        blocks = [block for block, _ in line_blocks(io.BytesIO(data), text_module.Encoding("latin-1", 0))]
    finally:
        text_module.BLOCK_BYTES = old
    assert b"".join(blocks) == data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    assert all(block.endswith(b"\n") for block in blocks[:-1])


def test_a_separator_and_decimal_mark_that_are_given_are_used() -> None:
    text = "time_s;head_x_m\n" + "".join(f"{k / 100:.2f};{k}\n" for k in range(50))
    layout = find_layout(text.encode(), "semicolon", ".")
    assert layout is not None
    assert (layout.separator, layout.names) == (";", ("time_s", "head_x_m"))
    with pytest.raises(ReadError):
        read(io.StringIO(text), ReadOptions(delimiter="|"))


TABLE = "time_s,head_x_m\n" + "".join(f"{k / 240:.5f},{0.2 * np.sin(k / 60):.5f}\n" for k in range(400))


@pytest.mark.parametrize("codec", ["utf-8", "utf-16"])
@pytest.mark.parametrize("above", ["# a note\n" * 20_000, "# " + "x" * 1_000_000 + "\n"])
def test_a_table_is_found_below_many_or_long_comments(above: str, codec: str) -> None:
    recording = read(io.BytesIO((above + TABLE).encode(codec)))
    assert recording.traces["head"].time_s.size == 400


def test_a_table_that_does_not_show_is_not_denied() -> None:
    with pytest.raises(ReadError, match=r"no table of numbers shows in the first 4\.2 MB of 5\.0; shorten"):
        read(io.StringIO("# " + "x" * 5_000_000 + "\n" + TABLE))


def test_names_without_end_do_not_fill_the_message() -> None:
    names = ",".join(f"c{k}" for k in range(100_000))
    with pytest.raises(ReadError, match="is known as the head's place") as caught:
        read(io.StringIO(f"{names}\n1,2\n"))
    assert len(str(caught.value)) < 500
