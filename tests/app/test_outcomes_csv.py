"""Tables of putts: names and units tolerated, faults named by line and column."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pacewright.app.outcomes_csv import parse_putts, read_putts
from pacewright.core.errors import ReadError

PLAIN = b"asked_m,finish_along_m\n3,3.2\n4,3.6\n"


def test_a_plain_table_is_read() -> None:
    table = parse_putts(PLAIN, "putts.csv")
    assert [(p.asked_m, p.outcome.along_m) for p in table.putts] == [(3.0, 3.2), (4.0, 3.6)]
    assert table.remarks == ()


def test_units_by_ending_and_uncertainties_in_either_order() -> None:
    table = parse_putts(
        b"asked_ft,finish_along_ft,backswing_length_cm,backswing_length_m_sd,downswing_time_ms,downswing_time_sd_ms,"
        b"impact_speed_m_s,ball_speed_cm_s\n10,11,25,0.002,300,4,1.4,220\n",
        "x",
    )
    (putt,) = table.putts
    assert putt.asked_m == pytest.approx(3.048)
    assert putt.outcome.along_m == pytest.approx(3.3528)
    assert (putt.value("backswing_length_m"), putt.sd("backswing_length_m")) == pytest.approx((0.25, 0.002))
    assert (putt.value("downswing_time_s"), putt.sd("downswing_time_s")) == pytest.approx((0.3, 0.004))
    assert putt.value("ball_speed_m_s") == pytest.approx(2.2)


def test_words_for_the_finish_and_for_holed_putts() -> None:
    table = parse_putts(
        b"asked_m,finish,finish_along_m,holed,pace_left_cm\n3,+2ft,,,\n3,in,,,\n3,,3.0,yes,\n3,,,1,30\n3,,2.5,no,\n",
        "x",
    )
    outcomes = [putt.outcome for putt in table.putts]
    assert [o.holed for o in outcomes] == [False, True, True, True, False]
    assert [o.is_censored for o in outcomes] == [False, True, True, False, False]
    assert outcomes[3].along_m == pytest.approx(3.3)


@pytest.mark.parametrize("text", [
    "asked_m;finish_along_m\n3,5;3,25\n",
    "asked_m\tfinish_along_m\n3.5\t3.25\n",
    "\ufeffASKED_M , Finish_Along_M\r\n3.5 , 3.25\r\n\r\n",
    "# session of today\nasked_m,finish_along_m\n\n# first green\n3.5,3.25\n",
    'asked_m,finish_along_m,"a remark, quoted"\n3.5,3.25,"left, a bit"\n',
])  # fmt: skip
def test_separators_marks_and_comments(text: str) -> None:
    (putt,) = parse_putts(text.encode(), "x").putts
    assert (putt.asked_m, putt.outcome.along_m) == (3.5, 3.25)


def test_columns_that_are_not_used_are_named() -> None:
    table = parse_putts(b"asked_m,finish_along_m,weather\n3,3.2,fine\n", "x")
    assert "'weather'" in table.remarks[0].text


@pytest.mark.parametrize(("text", "message"), [
    (b"", "no table"),
    (b"\x00\x01\x02", "no table"),
    (b"finish_along_m\n3\n", "asked_m"),
    (b"asked_m\n3\n", "finish_along_m"),
    (b"asked_m,finish_along_m\n", "no putt"),
    (b"asked_m,finish_along_m\n3,far\n", "line 2: column 'finish_along_m': 'far' is not a number"),
    (b"asked_m,finish_along_m\n3,3\n\n,3\n", "line 4: column 'asked_m': the length asked is missing"),
    (b"asked_m,finish_along_m\n3,\n", "line 2: column 'finish_along_m': the finish is missing"),
    (b"asked_m,finish_along_m\n-3,3\n", "asked is above 0"),
    (b"asked_m,finish_along_m\n3,-1\n", "roll-out is above 0"),
    (b"asked_m,finish_along_m\n3,inf\n", "not a number"),
    (b"asked_m,finish_along_m,holed\n3,3,perhaps\n", "neither yes nor no"),
    (b"asked_m,finish_along_m,comfort\n3,3,9\n", "comfort runs from 1 to 5"),
    (b"asked_m,finish_along_m,phase\n3,3,monday\n", "none of learning"),
    (b"asked_m,finish_along_m,downswing_time_s\n3,3,0\n", "column 'downswing_time_s': 0 makes no sense"),
    (b"asked_m,finish_along_m,downswing_time_s,downswing_time_s_sd\n3,3,0.3,-1\n", "not below 0"),
    (b"asked_m,asked_ft,finish_along_m\n3,10,3\n", "hold the same thing"),
    (b"asked_m,finish\n3,far away\n", "line 2"),
    (b"asked_m,finish_along_m,green_speed_ft\n3,3,99\n", "green speed"),
])  # fmt: skip
def test_faults_are_named_with_their_place(text: bytes, message: str) -> None:
    with pytest.raises(ReadError, match=message) as caught:
        parse_putts(text, "putts.csv")
    assert str(caught.value).startswith("putts.csv:")


def test_further_columns_may_be_needed() -> None:
    with pytest.raises(ReadError, match="beats_per_minute"):
        parse_putts(PLAIN, "x", needs=("beats_per_minute",))


def test_a_file_is_read_under_its_name(tmp_path: Path) -> None:
    path = tmp_path / "today.csv"
    path.write_bytes(PLAIN)
    assert read_putts(path).source == "today.csv"
    with pytest.raises(FileNotFoundError):
        read_putts(tmp_path / "none.csv")


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=200))
def test_whatever_the_bytes_it_is_read_or_refused_in_words(data: bytes) -> None:
    for head in (b"", b"asked_m,finish_along_m,holed,finish,downswing_time_s\n"):
        with contextlib.suppress(ReadError):
            parse_putts(head + data, "x")
