"""The change of spread: interval, verdict, power, and what would settle it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pacewright.coaching.session_fit import CLIP_SDS, SessionFit, fit_session
from pacewright.coaching.spread import one_look_power, sd_ratio_limit
from pacewright.coaching.spread_change import (
    MOST_PUTTS,
    drawn_in_ratio,
    putts_to_settle,
    rule_power,
    spread_change,
    spread_ratio_limits,
    verdict_now,
    verdict_ratio,
)


def _fit(errors: np.ndarray) -> SessionFit:
    return fit_session(np.full(errors.size, 6.0), errors)


def _pair(seed: int, putts: int, ratio: float) -> tuple[SessionFit, SessionFit]:
    rng = np.random.default_rng(seed)
    return _fit(0.1 * rng.normal(size=putts)), _fit(ratio * 0.1 * rng.normal(size=putts))


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.integers(5, 60), st.floats(0.3, 3.0))
def test_the_interval_holds_the_value_and_agrees_with_the_verdict(
    seed: int, putts: int, ratio: float
) -> None:
    before, after = _pair(seed, putts, ratio)
    found = spread_change(before, after)
    assert 0.0 <= found.ratio.low <= found.ratio.value <= found.ratio.high
    assume(abs(found.ratio.high - 1.0) > 1e-6 and abs(found.ratio.low - 1.0) > 1e-6)
    assert found.verdict == verdict_now(before, after)
    assert (found.verdict == "better") == (found.ratio.high < 1.0)
    assert (found.verdict == "worse") == (found.ratio.low > 1.0)


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 10_000), st.integers(8, 60), st.floats(0.5, 2.0))
def test_turning_the_sessions_round_turns_the_interval_round(seed: int, putts: int, ratio: float) -> None:
    before, after = _pair(seed, putts, ratio)
    low, high = spread_ratio_limits(before, after)
    back_low, back_high = spread_ratio_limits(after, before)
    assert back_low == pytest.approx(1.0 / high, rel=1e-6) if math.isfinite(high) else back_low == 0.0
    assert back_high == pytest.approx(1.0 / low, rel=1e-6) if low > 0.0 else math.isinf(back_high)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.2, 5.0), st.floats(-0.5, 0.5))
def test_units_and_bias_do_not_matter(seed: int, scale: float, bias: float) -> None:
    rng = np.random.default_rng(seed)
    one, two = 0.1 * rng.normal(size=20), 0.07 * rng.normal(size=25)
    plain = spread_ratio_limits(_fit(one), _fit(two))
    changed = spread_ratio_limits(_fit(scale * one + bias), _fit(scale * two - bias))
    assert changed == pytest.approx(plain, rel=1e-2)


def test_the_interval_covers_the_truth_and_more() -> None:
    inside = []
    for seed in range(40):
        low, high = spread_ratio_limits(*_pair(seed, 30, 0.7))
        inside.append(low <= 0.7 <= high)
    assert np.mean(inside) >= 0.9


def test_a_large_change_is_seen_both_ways() -> None:
    before, after = _pair(1, 60, 0.4)
    assert spread_change(before, after).verdict == "better"
    assert spread_change(after, before).verdict == "worse"
    assert spread_change(before, after).putts_to_settle == 0


def test_three_putts_each_say_nothing() -> None:
    found = spread_change(_fit(np.array([0.1, -0.1, 0.02])), _fit(np.array([0.001, -0.001, 0.0])))
    assert found.verdict == "unclear"
    assert found.ratio.low == 0.0
    assert math.isinf(found.ratio.high)
    assert math.isinf(found.verdict_ratio)


@pytest.mark.parametrize(("putts", "limit"), [(10, 2.01), (20, 1.59), (30, 1.45), (50, 1.33)])
def test_detectable_ratio_is_the_published_limit(putts: int, limit: float) -> None:
    """95 % limits, one look: derived (F), stroke-science reference."""
    found = spread_change(*_pair(putts, putts, 1.0))
    assert found.detectable_ratio == pytest.approx(limit, abs=0.005)
    assert found.verdict_ratio > found.detectable_ratio


def test_one_look_is_the_f_test() -> None:
    """Judged once, the limits are those of F, and the verdict follows them."""
    assert verdict_ratio(29.0, 29.0, "one look") == pytest.approx(sd_ratio_limit(30, 30))
    for seed in range(20):
        found = spread_change(*_pair(seed, 30, 0.6), "one look")
        seen = 1.0 / found.ratio.value > sd_ratio_limit(30, 30)
        assert (found.verdict == "better") == seen


def test_computed_power_agrees_with_drawn_sessions() -> None:
    verdicts = [verdict_now(*_pair(1000 + seed, 30, 0.5)) == "better" for seed in range(300)]
    assert rule_power(0.5, 30, 30) == pytest.approx(float(np.mean(verdicts)), abs=0.08)


def test_peeking_costs_power_and_never_exceeds_the_one_look() -> None:
    for putts in (20, 30, 60, 100):
        assert rule_power(0.7, putts, putts) < one_look_power(0.7, putts, putts, 0.90)
        assert rule_power(0.7, putts, putts, "one look") == pytest.approx(one_look_power(0.7, putts, putts))


def test_putts_to_settle_give_four_chances_in_five() -> None:
    for ratio in (0.5, 0.7):
        putts = putts_to_settle(ratio)
        assert rule_power(ratio, putts, putts) >= 0.8 > rule_power(ratio, putts - 1, putts - 1)
    assert putts_to_settle(0.7, "one look") < putts_to_settle(0.7)
    assert putts_to_settle(0.99) == MOST_PUTTS
    assert putts_to_settle(0.5, more_than=200) == 201


def test_drawing_in_pulls_the_ratio_towards_one() -> None:
    rng = np.random.default_rng(3)
    before, after = rng.normal(size=200_000), 0.6 * rng.normal(size=200_000)
    limit = CLIP_SDS * 1.4826 * float(np.median(np.abs(np.concatenate([before, after]))))
    drawn = np.clip(after, -limit, limit).std() / np.clip(before, -limit, limit).std()
    assert drawn_in_ratio(0.6, 0.5) == pytest.approx(float(drawn), rel=0.005)
    assert drawn_in_ratio(1.0, 0.5) == pytest.approx(1.0)
