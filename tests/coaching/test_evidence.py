"""Evidence under peeking: a martingale without a change, invariant, and right in its limits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.coaching.evidence import (
    CHANGE_WEIGHTS,
    DAY_BIAS,
    DAY_FORM,
    between_days,
    critical_t,
    critical_variance_ratio,
    holm,
    log_evidence_mean,
    log_evidence_smaller,
)


def test_weights_add_to_one() -> None:
    assert CHANGE_WEIGHTS.sum() == pytest.approx(1.0)


def _integral(values: np.ndarray, grid: np.ndarray) -> float:
    return float(np.sum(values) * (grid[1] - grid[0]))


@pytest.mark.parametrize(("before", "after"), [(9, 9), (29, 29), (29, 120), (5, 60)])
def test_evidence_is_worth_one_without_a_change(before: int, after: int) -> None:
    """E[exp(evidence)] = 1 under equal spreads, whose sums of squares have a beta-prime ratio."""
    log_ratio = np.linspace(-40.0, 40.0, 40_001)
    log_density = (
        0.5 * after * log_ratio
        - 0.5 * (before + after) * np.log1p(np.exp(log_ratio))
        - (math.lgamma(after / 2) + math.lgamma(before / 2) - math.lgamma((before + after) / 2))
    )
    evidence = log_evidence_smaller(np.exp(log_ratio), before, after, 0.0)
    assert _integral(np.exp(log_density), log_ratio) == pytest.approx(1.0, abs=1e-6)
    assert _integral(np.exp(log_density + evidence), log_ratio) == pytest.approx(1.0, abs=1e-6)


def test_the_next_putt_changes_the_evidence_by_nothing_on_average() -> None:
    """The martingale itself: given the putts so far, the mean of the next evidence is the present one."""
    rng = np.random.default_rng(3)
    putts = 12
    before, after = rng.normal(size=putts), rng.normal(size=putts)
    squares = float(np.sum((before - before.mean()) ** 2))
    own = float(np.sum((after - after.mean()) ** 2))
    freedom = 2 * (putts - 1)
    # Without a change the next residual over the pooled spread is Student's t with that freedom.
    t = np.linspace(-200.0, 200.0, 40_001)
    density = _student_density(t, freedom)
    following = log_evidence_smaller(
        own / squares + t**2 * (1 + own / squares) / freedom, putts - 1, putts, 0.0
    )
    now = math.exp(float(log_evidence_smaller(own / squares, putts - 1, putts - 1, 0.0)))
    assert _integral(density * np.exp(following), t) == pytest.approx(now, rel=1e-4)


def _student_density(t: np.ndarray, freedom: float) -> np.ndarray:
    scale = math.lgamma((freedom + 1) / 2) - math.lgamma(freedom / 2) - 0.5 * math.log(freedom * math.pi)
    return np.asarray(np.exp(scale - 0.5 * (freedom + 1) * np.log1p(t**2 / freedom)))


@pytest.mark.parametrize(("before", "after"), [(29, 29), (29, 120), (199, 199)])
def test_evidence_is_worth_one_for_players_whose_form_differs_from_day_to_day(
    before: int, after: int
) -> None:
    """E[exp(evidence)] = 1 over players without a change, each day with its own spread."""
    log_ratio = np.linspace(-20.0, 20.0, 8_001)
    evidence = log_evidence_smaller(np.exp(log_ratio), before, after)
    scale = math.lgamma(after / 2) + math.lgamma(before / 2) - math.lgamma((before + after) / 2)
    apart = np.linspace(-30.0, 8.0, 381)  # rare days far out are where the evidence is large
    weight = np.exp(-0.5 * apart**2)
    worth = 0.0
    for form, share in zip(math.sqrt(2.0) * DAY_FORM * apart, weight / weight.sum(), strict=True):
        shifted = log_ratio - 2.0 * form
        log_density = 0.5 * after * shifted - 0.5 * (before + after) * np.log1p(np.exp(shifted)) - scale
        worth += share * _integral(np.exp(log_density + evidence), log_ratio)
    assert worth == pytest.approx(1.0, abs=0.01)


def _ever(day_form: float, assumed: float) -> float:
    """Share of unchanged players for whom the evidence ever reaches 20 over 200 looks."""
    rng = np.random.default_rng(11)
    sessions = 1500
    putts = np.arange(1, 201)
    squares = []
    for _ in range(2):
        errors = np.exp(day_form * rng.normal(size=(sessions, 1))) * rng.normal(size=(sessions, 200))
        squares.append(np.cumsum(errors**2, axis=1) - np.cumsum(errors, axis=1) ** 2 / putts)
    ratio = squares[1][:, 4:] / squares[0][:, 4:]
    evidence = log_evidence_smaller(ratio, putts[4:] - 1, putts[4:] - 1, assumed)
    return float(np.mean(evidence.max(axis=1) >= math.log(20.0)))


def test_ever_crossing_is_rare_without_a_change() -> None:
    """Ville's bound over 200 looks, normal errors: at most 5 %, with days alike and with days that differ."""
    assert 0.01 < _ever(0.0, 0.0) < 0.05
    assert 0.01 < _ever(DAY_FORM, DAY_FORM) < 0.05
    assert _ever(0.0, DAY_FORM) < _ever(DAY_FORM, DAY_FORM)
    # What it guards against: form that nobody reckoned with.
    assert _ever(1.5 * DAY_FORM, 0.0) > 0.08


def test_a_day_of_its_own_widens_the_error_of_a_mean_and_bounds_what_putts_can_tell() -> None:
    error, size = between_days(0.02, 15.0)
    assert error > 0.02
    assert size < 15.0
    assert between_days(0.02, 1e9)[1] == pytest.approx(1.0 / (2.0 * DAY_BIAS**2), rel=1e-6)


@given(st.floats(0.01, 100.0), st.integers(2, 300), st.integers(2, 300))
def test_a_smaller_spread_is_never_less_evidence(ratio: float, before: int, after: int) -> None:
    less, more = (float(log_evidence_smaller(r, before, after)) for r in (1.01 * ratio, ratio))
    assert more >= less - 1e-9


@pytest.mark.parametrize(("before", "after"), [(29.0, 29.0), (9.0, 200.0), (13.5, 40.2)])
def test_critical_ratio_is_where_the_evidence_reaches_the_limit(before: float, after: float) -> None:
    squares = critical_variance_ratio(before, after, 0.05)
    assert float(log_evidence_smaller(squares, before, after)) == pytest.approx(math.log(20.0), abs=1e-6)


def test_two_putts_never_reach_the_limit() -> None:
    assert critical_variance_ratio(1.0, 1.0, 0.05) == 0.0
    assert math.isinf(critical_t(1.0, 1.0, 0.05))


@pytest.mark.parametrize(("freedom", "size"), [(28.0, 15.0), (58.0, 30.0)])
def test_evidence_for_a_mean_is_worth_one_without_a_change(freedom: float, size: float) -> None:
    t = np.linspace(-200.0, 200.0, 200_001)
    evidence = np.array([log_evidence_mean(float(one), freedom, size) for one in t[::10]])
    expected = _integral(_student_density(t[::10], freedom) * np.exp(evidence), t[::10])
    assert expected == pytest.approx(1.0, abs=1e-3)


def test_critical_t_is_where_the_evidence_reaches_the_limit() -> None:
    t = critical_t(28.0, 15.0, 0.1)
    assert log_evidence_mean(t, 28.0, 15.0) == pytest.approx(math.log(10.0))


def test_holm_against_a_worked_example() -> None:
    """Holm 1979: 0.01, 0.04, 0.03, 0.005 become 0.03, 0.06, 0.06, 0.02 (textbook example, from memory)."""
    assert holm([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02])


@given(st.lists(st.floats(0.0, 1.0), max_size=8))
def test_holm_never_makes_a_chance_smaller(chances: list[float]) -> None:
    adjusted = holm(chances)
    assert all(one >= other for one, other in zip(adjusted, chances, strict=True))
    assert all(one <= 1.0 for one in adjusted)
