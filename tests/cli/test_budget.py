"""`pacewright budget`: the words of its JSON, what it says to people, and what it refuses."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import numpy as np
import pytest

from pacewright.cli.main import run
from pacewright.coaching.terms import CAUSES, QUANTITIES
from pacewright.core.outcome import Putt
from pacewright.simulate.players import SimulatedPlayer, Task, mixed_lengths, simulate_mixed, simulate_putts


def _table(path: Path, putts: list[Putt], quantities: tuple[str, ...] = QUANTITIES, sds: bool = True) -> Path:
    with path.open("w", newline="") as file:
        writer = csv.writer(file)
        names = [name for q in quantities for name in ([q, f"{q}_sd"] if sds else [q])]
        writer.writerow(["asked_m", "finish_along_m", "holed", "guess_along_m", "block", *names])
        for putt in putts:
            figures = [
                x for q in quantities for x in ([putt.value(q), putt.sd(q)] if sds else [putt.value(q)])
            ]
            along = "" if putt.outcome.along_m is None else putt.outcome.along_m
            writer.writerow(
                [putt.asked_m, along, int(putt.outcome.holed), putt.guess_along_m, putt.block, *figures]
            )
    return path


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """100 putts of a player whose timing scatters most: 60 mixed, 40 of 6 m."""
    rng = np.random.default_rng(1)
    tasks = [Task(mixed_lengths(rng, 60), "mixed"), Task((6.0,) * 40, "six", repeated=True)]
    putts = simulate_putts(SimulatedPlayer(timing_sd=0.09), rng, tasks)
    return _table(tmp_path_factory.mktemp("budget") / "putts.csv", putts)


def _json(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, object]:
    assert run(["budget", *arguments, "--json"]) == 0
    made = json.loads(capsys.readouterr().out, parse_constant=lambda name: pytest.fail(f"{name} is no JSON"))
    assert isinstance(made, dict)
    return made


def test_json_has_the_promised_words(session: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = _json(capsys, str(session))
    shares = made["shares"]
    assert isinstance(shares, dict)
    assert tuple(shares) == CAUSES
    assert sum(share["value"] for share in shares.values()) == pytest.approx(1.0)
    assert all(share["low"] <= share["value"] <= share["high"] for share in shares.values())
    truth = SimulatedPlayer(timing_sd=0.09).true_shares()["timing"]
    assert shares["timing"]["low"] - 0.1 < truth < shares["timing"]["high"] + 0.1
    assert made["putts"] == 100
    assert made["enough"] is True
    assert isinstance(made["putts_needed"], int)
    assert 0.08 < made["spread_share"] < 0.16  # type: ignore[operator]
    assert isinstance(made["judgement"], dict)
    assert isinstance(made["player_model"], dict)


def test_people_get_causes_and_what_mending_brings(
    session: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "120")
    assert run(["budget", str(session), "--at", "10ft", "--units", "imperial"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("The distance varies by")
    assert "most of all through timing" in told
    for words in ("Stroke length", "Strike", "at 10 ft", "Three-putts a round", "Own constant"):
        assert words in told
    assert not re.search(r"nan|None|\d\.\d{4}", told)


def test_what_if_and_the_round_can_be_chosen(session: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = _json(
        capsys, str(session), "--what-if", "timing=50%", "--first-putts", "10m=18", "--holing", "tour"
    )
    (one,) = made["what_if"]  # type: ignore[misc]
    assert (one["cause"], one["factor"]) == ("timing", 0.5)
    assert one["spread_share_then"] < one["spread_share_now"]
    assert one["round_now"]["first_putts"] == 18
    assert one["round_then"]["three_putts"] < one["round_now"]["three_putts"]


def test_ten_putts_carry_no_verdict_and_say_how_many_would(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = _table(tmp_path / "ten.csv", simulate_mixed(SimulatedPlayer(), np.random.default_rng(2), 10))
    made = _json(capsys, str(path))
    assert made["enough"] is False
    assert made["putts_needed"] > 30  # type: ignore[operator]
    assert made["what_if"] == []
    assert "cannot say yet why" in str(made["statement"])


@pytest.mark.parametrize(("quantities", "known"), [
    (("downswing_time_s",), {"timing", "green_and_judgement"}),
    (("backswing_length_m", "downswing_time_s"), {"length", "timing", "green_and_judgement"}),
    (QUANTITIES[:3], {"length", "timing", "shape", "green_and_judgement"}),
    (("ball_speed_m_s",), {"strike", "green_and_judgement"}),
])  # fmt: skip
def test_what_was_not_measured_is_null_and_said(
    quantities: tuple[str, ...], known: set[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    putts = simulate_mixed(SimulatedPlayer(), np.random.default_rng(3), 60)
    path = _table(tmp_path / "part.csv", putts, quantities, sds=False)
    made = _json(capsys, str(path))
    shares = made["shares"]
    assert isinstance(shares, dict)
    assert {name for name, share in shares.items() if share["value"] is not None} == known
    assert sum(share["value"] for share in shares.values() if share["value"] is not None) == pytest.approx(
        1.0
    )
    assert all(cause["counted_in"] for cause in made["causes"] if cause["name"] not in known)  # type: ignore[attr-defined]
    assert run(["budget", str(path)]) == 0


@pytest.mark.parametrize(("arguments", "message"), [
    (["--what-if", "wind=50%"], "was not measured apart"),
    (["--what-if", "timing"], "timing=70%"),
    (["--first-putts", "5ft"], "5ft=4"),
    (["--holing", "club"], "amateur or tour"),
    (["--at", "0m"], "above 0"),
    (["--units", "old"], "metric or imperial"),
])  # fmt: skip
def test_what_makes_no_sense_is_refused_in_one_line(
    arguments: list[str], message: str, session: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["budget", str(session), *arguments]) == 2
    printed = capsys.readouterr()
    assert message in printed.err
    assert printed.out == ""
    assert len(printed.err.strip().splitlines()) == 1


def test_a_table_without_strokes_has_a_spread_and_says_what_is_missing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bare.csv"
    path.write_text("asked_m,finish_along_m\n" + "3,3.2\n3,2.8\n" * 10)
    assert run(["budget", str(path), "--json"]) == 0
    made = json.loads(capsys.readouterr().out)
    assert made["shares"]["green_and_judgement"]["value"] == 1.0
    assert made["shares"]["timing"]["value"] is None
    assert made["enough"] is False
    assert made["spread_share"] == pytest.approx(0.068, abs=0.002)
    assert run(["budget", str(path)]) == 0
    assert "downswing_time_s" in capsys.readouterr().out
    assert run(["budget", str(tmp_path / "none.csv")]) == 2
