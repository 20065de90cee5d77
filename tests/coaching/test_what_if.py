"""What-ifs: the best third of a session counts only beyond what luck does, and the payoff follows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pacewright.coaching.budget import error_budget
from pacewright.coaching.on_the_green import LINE_SD_RAD
from pacewright.coaching.outcomes import score
from pacewright.coaching.terms import terms
from pacewright.coaching.what_if import Course, best_third, line_spread, payoffs, usual_payoffs
from pacewright.core.errors import SettingsError
from pacewright.core.outcome import Outcome, Putt
from pacewright.simulate.players import SimulatedPlayer, Task, mixed_lengths, simulate_mixed, simulate_putts

COURSE = Course(LINE_SD_RAD["amateur"])


def test_an_even_player_has_no_steadier_third() -> None:
    rng = np.random.default_rng(1)
    spells = [best_third(terms(simulate_mixed(SimulatedPlayer(), rng, 100)), "timing") for _ in range(60)]
    assert all(s is not None for s in spells)
    assert np.mean([s.factor for s in spells if s]) > 0.88
    assert np.mean([s.chance < 0.1 for s in spells if s]) < 0.2


def test_a_player_who_is_steadier_for_a_third_of_the_time_is_seen() -> None:
    """Half the timing spread in every third spell: best third 0.5, whole √((0.25 + 1 + 1)/3) = 0.866."""
    rng = np.random.default_rng(2)
    usual = SimulatedPlayer(timing_sd=0.10)
    steady = replace(usual, timing_sd=0.05)
    factors, chances = [], []
    for _ in range(30):
        putts = []
        for k in range(24):
            player = steady if k % 3 == 0 else usual
            putts += simulate_putts(player, rng, [Task(mixed_lengths(rng, 8))])
        spells = best_third(terms(putts), "timing")
        assert spells is not None
        factors.append(spells.factor)
        chances.append(spells.chance)
    # Drawn towards 1 by what luck may have done.
    assert 0.5 / 0.866 - 0.05 < np.median(factors) < 0.75
    assert np.median(chances) < 0.05


def test_too_few_putts_have_no_thirds() -> None:
    assert (
        best_third(terms(simulate_mixed(SimulatedPlayer(), np.random.default_rng(3), 29)), "timing") is None
    )


def test_usual_payoffs_cover_the_causes_in_the_players_hands() -> None:
    putts = simulate_mixed(SimulatedPlayer(), np.random.default_rng(4), 120)
    budget = error_budget(putts)
    found = usual_payoffs(budget, terms(putts), COURSE)
    assert {one.cause for one in found} == {"length", "timing", "shape", "strike"}
    assert {one.reason for one in found} == {"best third", "half"}
    half = {one.cause: one for one in found if one.reason == "half"}
    for one in half.values():
        assert one.spread_now == pytest.approx(budget.spread_share)
    assert half["timing"].spread_then < half["timing"].spread_now
    assert half["timing"].round_then.three_putts < half["timing"].round_now.three_putts


def test_nothing_changed_pays_nothing() -> None:
    budget = error_budget(simulate_mixed(SimulatedPlayer(), np.random.default_rng(5), 80))
    (same,) = payoffs(budget, {"timing": 1.0}, COURSE)
    assert same.round_then.three_putts == pytest.approx(same.round_now.three_putts)
    assert same.spread_then == pytest.approx(same.spread_now)


@pytest.mark.parametrize(("cause", "factor"), [("wind", 0.5), ("timing", -0.1), ("timing", 3.0)])
def test_what_makes_no_sense_is_refused(cause: str, factor: float) -> None:
    budget = error_budget(simulate_mixed(SimulatedPlayer(), np.random.default_rng(6), 80))
    with pytest.raises(SettingsError):
        payoffs(budget, {cause: factor}, COURSE)


def test_the_players_own_line_is_used_where_it_was_noted() -> None:
    noted = score(
        [Putt(4.0, Outcome(4.0 + off, side)) for off, side in ((0.4, 0.1), (-0.4, 0.3), (0.1, 0.2))]
    )
    unnoted = score([Putt(4.0, Outcome(4.2)), Putt(4.0, Outcome(3.9))])
    assert line_spread(noted, "tour") == pytest.approx(0.025)
    assert line_spread(unnoted, "tour") == LINE_SD_RAD["tour"]
