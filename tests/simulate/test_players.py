"""The simulated players do what their parameters say."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pacewright.core.errors import SimulationError
from pacewright.simulate.players import (
    MeasurementNoise,
    SimulatedPlayer,
    Task,
    mixed_lengths,
    simulate_mixed,
    simulate_putts,
)


def test_true_shares_follow_from_the_spreads_by_hand() -> None:
    """Independent terms of SD 3, 4, 0, 0, and 12 for judgement: 9, 16 and 144 of 169."""
    shares = SimulatedPlayer(0.03, 0.04, 0.0, 0.0, 0.12, 0.0).true_shares()
    assert shares == pytest.approx(
        {
            "length": 9 / 169,
            "timing": 16 / 169,
            "shape": 0.0,
            "strike": 0.0,
            "green_and_judgement": 144 / 169,
        }
    )


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(0.0, 0.1), min_size=6, max_size=6), st.floats(-0.8, 0.8))
def test_true_shares_add_to_one(sds: list[float], correlation: float) -> None:
    player = SimulatedPlayer(*sds, correlation={("length", "timing"): correlation})
    if player.true_spread() > 1e-4:
        assert sum(player.true_shares().values()) == pytest.approx(1.0)


def test_the_putts_scatter_as_the_parameters_say() -> None:
    player = SimulatedPlayer(bias=0.03)
    rng = np.random.default_rng(1)
    mixed = simulate_mixed(player, rng, 4000, noise=MeasurementNoise.none())
    error = np.log([p.outcome.along_m / p.asked_m for p in mixed if p.outcome.along_m])
    assert error.std() == pytest.approx(player.true_spread(), rel=0.03)
    assert error.mean() == pytest.approx(0.03, abs=0.005)
    repeated = simulate_putts(
        player, rng, [Task((6.0,) * 4000, repeated=True)], noise=MeasurementNoise.none()
    )
    error = np.log([p.outcome.along_m / p.asked_m for p in repeated if p.outcome.along_m])
    assert error.std() == pytest.approx(player.true_spread(repeated=True), rel=0.03)


def test_without_scatter_the_quantities_obey_the_law_of_the_roll() -> None:
    still = SimulatedPlayer(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    for putt in simulate_mixed(still, np.random.default_rng(2), 20, noise=MeasurementNoise.none()):
        ball = putt.value("ball_speed_m_s")
        assert putt.outcome.along_m == pytest.approx(putt.asked_m)
        assert ball**2 / (2 * 0.549) == pytest.approx(putt.asked_m)
        head = putt.value("impact_speed_m_s")
        law = still.swing_constant * putt.value("backswing_length_m") / putt.value("downswing_time_s")
        assert head == pytest.approx(law)
        assert ball / head == pytest.approx(still.ball_speed_ratio)


def test_a_misread_distance_shows_in_the_backswing_only_where_that_is_set() -> None:
    def length_scatter(in_stroke: bool) -> float:
        player = SimulatedPlayer(0.0, 0.0, 0.0, 0.0, 0.1, 0.0, judgement_in_stroke=in_stroke)
        putts = simulate_putts(
            player, np.random.default_rng(3), [Task((5.0,) * 500)], noise=MeasurementNoise.none()
        )
        return float(np.std(np.log([p.value("backswing_length_m") for p in putts])))

    assert length_scatter(False) == pytest.approx(0.0, abs=1e-12)
    assert length_scatter(True) == pytest.approx(0.05, rel=0.1)
    assert SimulatedPlayer(judgement_in_stroke=True).true_shares()["length"] > 0.4


def test_warm_up_and_beats_change_what_they_should() -> None:
    still = SimulatedPlayer(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, warm_up=0.2, warm_up_putts=3.0)
    putts = simulate_putts(
        still, np.random.default_rng(4), [Task((5.0,) * 10)], noise=MeasurementNoise.none()
    )
    errors = [math.log(p.outcome.along_m / 5.0) for p in putts if p.outcome.along_m]
    assert errors[0] == pytest.approx(0.2)
    assert errors[3] == pytest.approx(0.1)
    off = SimulatedPlayer(best_beat=80.0, beat_cost=0.1)
    assert off.true_spread(beats_per_minute=80.0) == pytest.approx(SimulatedPlayer().true_spread())
    assert off.true_spread(beats_per_minute=90.0) > off.true_spread(beats_per_minute=85.0)


def test_one_seed_is_one_session() -> None:
    one, two = (simulate_mixed(SimulatedPlayer(), np.random.default_rng(5), 8) for _ in range(2))
    assert one == two


def test_holed_putts_are_those_that_pass_the_hole_slowly() -> None:
    rng = np.random.default_rng(6)
    putts = simulate_putts(SimulatedPlayer(), rng, [Task(mixed_lengths(rng, 400, 1.0, 3.0))], hole=True)
    holed = [p for p in putts if p.outcome.holed]
    assert 40 < len(holed) < 360
    assert all(p.outcome.is_censored for p in holed)


def test_correlations_that_cannot_be_together_are_refused() -> None:
    player = SimulatedPlayer(
        correlation={("length", "timing"): -0.9, ("timing", "shape"): -0.9, ("length", "shape"): -0.9}
    )
    with pytest.raises(SimulationError, match="cannot be together"):
        player.covariance()
