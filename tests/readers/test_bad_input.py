"""Whatever a file holds, what comes out is a recording or a ReadError that names the file and the place."""

from __future__ import annotations

import io
import random
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import pacewright
from pacewright.core.errors import PacewrightError, ReadError
from pacewright.readers import ReadOptions, read
from tests.readers import lab

SERVE = Path(pacewright.__file__).parent / "app" / "data" / "real" / "serve" / "serve.c3d"


def swing(count: int = 400, *, rate_hz: float = 240.0) -> list[tuple[float, float]]:
    t = np.arange(count) / rate_hz
    return list(zip(t.tolist(), (0.2 * np.sin(2 * np.pi * 0.7 * t)).tolist(), strict=True))


def csv(rows: list[tuple[float, ...]], header: str = "time_s,head_x_m") -> bytes:
    return "\n".join([header, *(",".join(repr(cell) for cell in row) for row in rows)]).encode()


TRC = lab.trc_text(lab.putting(strokes=1)).encode()
C3D = SERVE.read_bytes()
SPIKES = csv([(t, 1e9) for t, _ in swing()])
CASES: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "the file is empty"),
    "a mark and nothing": (b"\xef\xbb\xbf", "no table of numbers"),
    "blank lines": (b"\n\n  \n", "no table of numbers"),
    "prose": (
        b"Dear coach,\nplease find my strokes enclosed.\n",
        "no table of numbers.* delimiter and decimal .--read 'delimiter=;' and --read decimal=, on",
    ),
    "a header alone": (b"time_s,head_x_m\n", "line 1: the header has no row of figures under it"),
    "binary": (bytes(range(256)) * 20, "neither text nor C3D"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + bytes(500), "neither text nor C3D"),
    "one sample": (csv(swing(1)), "column 'time_s': it holds 1 time;"),
    "three samples": (csv(swing(3)), "column 'head_x_m': 3 samples are too few"),
    "all NaN": (csv([(t, float("nan")) for t, _ in swing()]), "column 'head_x_m': not one figure in it"),
    "all empty": (
        b"time_s,head_x_m\n" + b"".join(b"%d.5e-3,\n" % k for k in range(99)),
        "column 'head_x_m': not one",
    ),
    "no time": (csv([(x,) for _, x in swing()], "head_x_m"), "there is no column of times"),
    "times all NaN": (
        csv([(float("nan"), x) for _, x in swing()]),
        "column 'time_s': it holds 0 times;",
    ),
    "millimetres called metres": (
        csv([(t, 1000 * x + 40) for t, x in swing()]),
        "line 19, column 'head_x_m': 101.3 is .* look like mm",
    ),
    "centimetres called metres": (
        csv([(t, 100 * x) for t, x in swing()]),
        "spans 40 m.* look like cm.*head_x_cm",
    ),
    "metres called millimetres": (csv(swing(), "time_s,head_x_mm"), "moves 0.4 mm in all.* look like m"),
    "milliseconds called seconds": (
        csv([(1000 * t, x) for t, x in swing()]),
        "column 'time_s'.* look like ms.*time_ms",
    ),
    "seconds called milliseconds": (
        csv(swing(), "time_ms,head_x_m"),
        "column 'time_ms'.* look like s.*time_s",
    ),
    "every figure beyond reason": (SPIKES, "line 2, column 'head_x_m': 1e\\+09 is beyond 100 m"),
    "two columns of one name": (
        csv([(t, x, x) for t, x in swing()], "time_s,head_x_m,head_x_m"),
        r"line 1: columns 2 \('head_x_m'\) and 3 \('head_x_m'\) both hold head_x",
    ),
    "one thing in two units": (
        csv([(t, x, x) for t, x in swing()], "time_s,head_x_m,Head X (mm)"),
        r"columns 2 \('head_x_m'\) and 3 \('Head X \(mm\)'\) both hold head_x",
    ),
    "time backwards": (csv(swing()[::-1]), "column 'time_s': it goes back in time at line 3"),
    "time shuffled": (
        csv(random.Random(4).sample(swing(), 400)),
        "column 'time_s': it goes back in time at line",
    ),
    "a time that leaps ahead": (
        csv([(1e9 if k == 50 else t, x) for k, (t, x) in enumerate(swing())]),
        "column 'time_s': line 52: 1e\\+09 is later than the rows after it",
    ),
    "time that falls back once": (
        csv([(t if k < 200 else t - 0.5, x) for k, (t, x) in enumerate(swing())]),
        "column 'time_s': it goes back in time at line 202, so it is not a clock",
    ),
    "one time for all": (csv([(1.0, x) for _, x in swing()]), "column 'time_s': every row has the same time"),
    "a word in a cell": (
        csv(swing()).replace(b"0.0125,", b"soon,"),
        "line 5: column 'time_s': 'soon' is not a number.*--read drop_bad_rows=yes on the command line",
    ),
    "cut off in a row": (
        csv(swing())[:2000].rpartition(b",")[0],
        r"line \d+: the row is cut off: it has 1 cells",
    ),
    "a row too long": (csv(swing()) + b",1.0,2.0", "line 401: the row has 4 cells where the header names 2"),
    "unknown names": (csv(swing(), "t1,pos"), "line 1: none of the columns 't1', 'pos' is known"),
    "no names": (
        csv(swing()).partition(b"\n")[2],
        "line 1: the table has 2 columns of numbers but no header",
    ),
    "accelerometer alone": (
        csv([(t, x, x, x) for t, x in swing()], "time_s,accel_x_g,accel_y_g,accel_z_g"),
        "no column is gyro_x",
    ),
    "a TRC header alone": (
        b"PathFileType\t4\t(X/Y/Z)\tputts.trc\n",
        "the header of a TRC file .* is not complete",
    ),
    "a TRC of no frames": (
        TRC.partition(b"\n1\t")[0],
        "line 4: there are 15 markers and no frame under them",
    ),
    "a TRC cut off": (TRC[:10_000], r"line \d+: the row is cut off"),
    "a TRC in furlongs": (TRC.replace(b"\tmm\t", b"\tfurlongs\t"), "line 3: 'furlongs' is not"),
    "a C3D of one block": (C3D[:512], "has at least 1024 bytes; this one has 512"),
    "a C3D cut in the parameters": (C3D[:1100], "the parameters should end at byte"),
    "a C3D cut in the data": (C3D[:300_000], "the header promises 1092 frames of 39 markers.* ends in frame"),
    "a C3D of one byte less": (C3D[: 2048 + 1092 * 39 * 16 - 1], "ends in frame 1092"),
    "a C3D of another processor": (C3D[:515] + b"\x07" + C3D[516:], "byte 516: 7 is not"),
}


@pytest.mark.parametrize("case", CASES)
def test_a_bad_file_is_refused_with_its_name_and_the_place(case: str, tmp_path: Path) -> None:
    data, why = CASES[case]
    path = tmp_path / "bad.csv"
    path.write_bytes(data)
    with pytest.raises(ReadError, match=why) as caught:
        read(path)
    message = str(caught.value)
    assert message.startswith(f"{path}: ")
    assert "\n" not in message
    with pytest.raises(ReadError, match=why):
        read(io.BytesIO(data))


def test_a_c3d_without_frames_or_without_markers_is_refused() -> None:
    frameless, markerless = bytearray(C3D), bytearray(C3D)
    frameless[6:10] = b"\1\0\0\0"
    markerless[2:4] = b"\0\0"
    with pytest.raises(ReadError, match="39 markers in 0 frames: nothing was recorded"):
        read(io.BytesIO(frameless))
    with pytest.raises(ReadError, match="0 markers in 1092 frames: nothing was recorded"):
        read(io.BytesIO(markerless))


def test_a_file_that_is_not_there_or_is_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(ReadError, match="cannot be opened"):
            read(path)


def _only_read_errors(data: bytes, options: ReadOptions | None = None) -> None:
    try:
        recording = read(io.BytesIO(data), options, name="fuzz")
    except PacewrightError:
        return
    assert recording.traces or recording.timed_strokes


OPTIONS = st.sampled_from(
    [
        None,
        ReadOptions(rate_hz=100.0),
        ReadOptions(drop_bad_rows=True),
        ReadOptions(columns={"time_s": "1", "head_x_m": "2"}),
        ReadOptions(columns={"head_angle_rad": "2", "time_s": "1"}, arc_radius_m=1.0),
        ReadOptions(decimal=","),
        ReadOptions(marker="a"),
        ReadOptions(left_handed=True, delimiter="tab"),
    ]
)


@settings(max_examples=150, deadline=None)
@given(
    data=st.binary(max_size=300),
    start=st.sampled_from([b"", b"\x02\x50", b"\xff\xfe", b"PathFileType\t4\n"]),
    options=OPTIONS,
)
def test_random_bytes_never_break_a_reader(data: bytes, start: bytes, options: ReadOptions | None) -> None:
    _only_read_errors(start + data, options)


CELLS = ["0", "1", "0.5", "-2e3", "1e308", "", "nan", "x", "1,5", '"', "3"]
TEXTS = st.text(alphabet='0123456789.,;\t -+eE\n\r"#xyzm_s()[]/timeadghr', max_size=250)


@settings(max_examples=250, deadline=None)
@given(
    header=st.sampled_from(
        [
            "",
            "time_s,head_x_m\n",
            "time_ms;head_x_mm;ball_x_m\n",
            "time_s\tgyro_x_deg_s\tgyro_y_deg_s\tgyro_z_deg_s\n",
            "takeaway_s,top_s,impact_s,kind\n",
            "backswing_time_s|downswing_time_s\n",
        ]
    ),
    rows=st.lists(st.lists(st.sampled_from(CELLS), max_size=5), max_size=30),
    separator=st.sampled_from([",", ";", "\t", "|", " "]),
    tail=TEXTS,
    options=OPTIONS,
)
def test_random_tables_never_break_a_reader(
    header: str, rows: list[list[str]], separator: str, tail: str, options: ReadOptions | None
) -> None:
    _only_read_errors(
        (header + "\n".join(separator.join(row) for row in rows) + "\n" + tail).encode(), options
    )


@settings(max_examples=80, deadline=None)
@given(
    changes=st.lists(st.tuples(st.integers(0, 2047), st.integers(0, 255)), max_size=6),
    cut=st.integers(0, 700_000),
)
def test_a_damaged_c3d_never_breaks_the_reader(changes: list[tuple[int, int]], cut: int) -> None:
    data = bytearray(C3D)
    for place, value in changes:
        data[place] = value
    _only_read_errors(bytes(data) if cut > 600_000 else bytes(data[:cut]))


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_a_damaged_trc_never_breaks_the_reader(data: st.DataObject) -> None:
    text = lab.trc_text(lab.putting(body=False, strokes=1, rate_hz=60)).encode()
    place = data.draw(st.integers(0, 900))
    junk = data.draw(st.binary(max_size=6))
    _only_read_errors(text[:place] + junk + text[place + data.draw(st.integers(0, 40)) :])
