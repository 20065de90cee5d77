"""The use case of the error budget, from putts in memory and for many players at once."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pacewright.app.budgets import BudgetOptions, budget_dict, budget_files, budget_putts
from pacewright.core.errors import ReadError
from pacewright.core.outcome import Outcome, Putt
from pacewright.simulate.players import SimulatedPlayer, Task, simulate_mixed, simulate_putts


def _write(path: Path, seed: int) -> Path:
    putts = simulate_mixed(SimulatedPlayer(), np.random.default_rng(seed), 40)
    rows = [f"{p.asked_m},{p.outcome.along_m},{p.value('downswing_time_s')}" for p in putts]
    path.write_text("\n".join(["asked_m,finish_along_m,downswing_time_s", *rows]) + "\n")
    return path


def test_many_players_at_once_are_the_same_as_one_by_one(tmp_path: Path) -> None:
    paths = [_write(tmp_path / f"{seed}.csv", seed) for seed in range(4)]
    together, apart = budget_files(paths, workers=2), budget_files(paths, workers=1)
    assert [budget_dict(r)["shares"] for r in together] == [budget_dict(r)["shares"] for r in apart]
    (tmp_path / "2.csv").write_text("asked_m\n3\n")
    with pytest.raises(ReadError, match=r"2\.csv"):
        budget_files(paths, workers=2)


def test_lengths_are_stated_at_the_middle_putt_or_where_asked() -> None:
    putts = simulate_mixed(SimulatedPlayer(), np.random.default_rng(5), 61)
    usual = budget_dict(budget_putts(putts))
    assert usual["at_length_m"] == sorted(p.asked_m for p in putts)[30]
    asked = budget_dict(budget_putts(putts, BudgetOptions(at_length_m=3.0)))
    assert asked["spread_m"] == pytest.approx(3.0 * asked["spread_share"])


def test_what_the_data_do_not_carry_is_left_out_and_not_made_up() -> None:
    """Holed every time, or no speed measured: no score, no model, but no failure either."""
    timed = simulate_mixed(SimulatedPlayer(), np.random.default_rng(6), 30)
    holed = [Putt(p.asked_m, Outcome(holed=True), measures=p.measures) for p in timed]
    report = budget_dict(budget_putts(holed))
    assert report["score"] is None
    assert report["enough"] is False
    only_time = [
        Putt(p.asked_m, p.outcome, measures={"downswing_time_s": p.measures["downswing_time_s"]})
        for p in timed
    ]
    assert budget_dict(budget_putts(only_time))["player_model"] is None


def test_sentences_are_plain_short_and_without_false_precision() -> None:
    rng = np.random.default_rng(7)
    for player in (SimulatedPlayer(), SimulatedPlayer(bias=-0.1, timing_sd=0.1), SimulatedPlayer(feel=1.0)):
        tasks = [Task((3.0, 4.0, 6.0, 8.0, 11.0) * 12, "mixed"), Task((6.0,) * 30, "six", repeated=True)]
        report = budget_putts(simulate_putts(player, rng, tasks))
        for sentence in (report.statement, *report.sentences(), *report.further_sentences()):
            assert sentence[0].isupper() or sentence[0].isdigit()
            assert sentence.endswith(".")
            assert len(sentence) < 260
            assert not any(word in sentence for word in ("nan", "None", "e-", "_"))
