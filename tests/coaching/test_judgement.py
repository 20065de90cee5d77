"""Judgement apart from execution, against Karlsen and Nilsson and against players with known judgement."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.coaching.budget import error_budget
from pacewright.coaching.judgement import SURFACE_SPREAD, shares_from_spreads
from pacewright.simulate.players import SimulatedPlayer, Task, mixed_lengths, simulate_putts


def test_the_published_spreads_give_the_published_shares() -> None:
    """Karlsen and Nilsson 2008: SD 10.6 % over 40 different putts, 6.8 % repeated, 2.5 % the surface (read);
    reading 60, technique 34, green 6 % (read), 59/36/6 from the SDs as printed (derived)."""
    reading, execution, green = shares_from_spreads(10.6, 6.8, 2.5)
    assert (100 * reading, 100 * execution, 100 * green) == pytest.approx((59, 36, 6), abs=0.6)
    assert (100 * reading, 100 * execution, 100 * green) == pytest.approx((60, 34, 6), abs=2.0)
    assert SURFACE_SPREAD == 0.025


@given(st.floats(0.01, 0.5), st.floats(0.01, 0.5), st.floats(0.0, 0.1))
def test_the_three_shares_add_to_one(mixed: float, repeated: float, green: float) -> None:
    assert sum(shares_from_spreads(mixed, repeated, green)) == pytest.approx(1.0)


def _session(rng: np.random.Generator, mixed: int, repeats: int) -> list[Task]:
    blocks = [Task((6.0,) * repeats, f"six {k}", repeated=True) for k in range(2)]
    return [Task(mixed_lengths(rng, mixed), "mixed"), *blocks]


def test_a_player_like_theirs_is_split_as_theirs_and_the_interval_holds_the_truth() -> None:
    """Spreads 10.6 % mixed and 6.8 % repeated, of which 2.5 % green: reading √(10.6² − 6.8²) = 8.13 %."""
    player = SimulatedPlayer(0.04, 0.04, 0.025, 0.014, 0.0813, 0.025)
    assert player.true_spread() == pytest.approx(0.106, abs=0.002)
    assert player.true_spread(repeated=True) == pytest.approx(0.068, abs=0.002)
    truth = 1.0 - (player.true_spread(repeated=True) / player.true_spread()) ** 2
    rng = np.random.default_rng(1)
    found, inside = [], []
    for _ in range(100):
        split = error_budget(simulate_putts(player, rng, _session(rng, 40, 20))).judgement
        assert split is not None
        found.append(split.reading)
        inside.append(split.reading_low <= truth <= split.reading_high)
        assert split.reading + split.execution + split.green == pytest.approx(1.0)
        assert (split.mixed_putts, split.repeated_putts) == (40, 40)
    assert np.median(found) == pytest.approx(truth, abs=0.06)
    assert 0.82 <= np.mean(inside) <= 0.97


def test_without_blocks_of_both_kinds_nothing_is_said() -> None:
    rng = np.random.default_rng(2)
    player = SimulatedPlayer()
    only_mixed = simulate_putts(player, rng, [Task(mixed_lengths(rng, 60), "mixed")])
    no_labels = simulate_putts(player, rng, [Task(mixed_lengths(rng, 40)), Task((6.0,) * 20)])
    assert error_budget(only_mixed).judgement is None
    assert error_budget(no_labels).judgement is None


def test_the_surface_cannot_scatter_more_than_the_repeated_putts() -> None:
    rng = np.random.default_rng(3)
    player = SimulatedPlayer()
    putts = simulate_putts(player, rng, _session(rng, 40, 20))
    split = error_budget(putts, green_spread=0.5).judgement
    assert split is not None
    assert split.execution == pytest.approx(0.0)
    own = error_budget(putts, green_spread=0.01).judgement
    assert own is not None
    assert own.green < 0.03
