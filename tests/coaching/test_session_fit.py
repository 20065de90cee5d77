"""One session's fit: spread, mishits, trends and holed putts."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.coaching.censored import clipped_variance
from pacewright.coaching.session_fit import (
    LEAST_SHARE,
    fit_session,
    log_errors,
    robust_scale,
)
from pacewright.core.errors import QualityError


def _asked(putts: int, *lengths: float) -> np.ndarray:
    return np.resize(np.array(lengths or (6.0,)), putts)


def test_the_spread_of_plain_putts_is_their_standard_deviation() -> None:
    """Within 1 %: the room for mishits costs no more when there are none."""
    errors = np.random.default_rng(1).uniform(-1.0, 1.0, size=40) * 0.1
    fit = fit_session(_asked(40), errors)
    assert fit.spread == pytest.approx(float(np.std(errors, ddof=1)), rel=0.01)
    assert fit.mean_error == pytest.approx(float(errors.mean()), abs=1e-6)
    assert fit.freedom == 39.0
    assert math.isnan(fit.trend)


@given(st.integers(0, 10_000), st.floats(-1.0, 1.0), st.floats(0.1, 10.0))
def test_scale_and_bias_go_through(seed: int, bias: float, scale: float) -> None:
    """A longer average changes the mean alone, a wider spread the spread alone."""
    errors = 0.1 * np.random.default_rng(seed).standard_t(4, size=25)
    plain, changed = fit_session(_asked(25), errors), fit_session(_asked(25), bias + scale * errors)
    assert changed.spread == pytest.approx(scale * plain.spread, rel=1e-3)
    assert changed.mean_error == pytest.approx(bias + scale * plain.mean_error, abs=1e-3 * scale)


def test_one_wild_putt_does_not_decide_the_spread() -> None:
    errors = 0.1 * np.random.default_rng(2).normal(size=30)
    wild = errors.copy()
    wild[7] = -2.0
    before, after = fit_session(_asked(30), errors), fit_session(_asked(30), wild)
    assert after.spread < 1.3 * before.spread
    assert float(np.std(wild)) > 3.0 * before.spread
    assert (before.mishits, after.mishits) == (0, 1)


def test_a_putt_that_hardly_moved_has_a_floor() -> None:
    assert log_errors(np.array([6.0]), np.array([0.001]))[0] == pytest.approx(math.log(LEAST_SHARE))
    assert math.isnan(log_errors(np.array([6.0]), np.array([math.nan]))[0])


def test_errors_that_grow_with_length_are_no_spread() -> None:
    """Short putts hit long and long putts hit short: a line, not luck."""
    asked = _asked(30, 2.0, 6.0, 12.0)
    luck = 0.05 * np.random.default_rng(3).normal(size=30)
    fit = fit_session(asked, luck - 0.15 * np.log(asked / 6.0))
    assert fit.spread == pytest.approx(fit_session(asked, luck).spread, rel=1e-6)
    assert fit.freedom == 28.0


def test_a_clear_warm_up_is_taken_out_and_said() -> None:
    rng = np.random.default_rng(4)
    luck = 0.05 * rng.normal(size=40)
    fit = fit_session(_asked(40), luck + 0.3 * 0.5 ** (np.arange(40) / 3.0))
    assert fit.warm_up == pytest.approx(0.3, abs=0.1)
    assert fit.spread == pytest.approx(0.05, rel=0.3)


def test_a_trend_is_rarely_seen_where_there_is_none() -> None:
    rng = np.random.default_rng(5)
    seen = [math.isfinite(fit_session(_asked(30), rng.normal(size=30)).trend) for _ in range(300)]
    assert np.mean(seen) < 0.03


@pytest.mark.parametrize(("putts", "share", "mean"), [(60, 0.5, 0.0), (60, 0.8, 0.05), (40, 0.3, 0.05)])
def test_holed_putts_are_neither_left_out_nor_zeros(putts: int, share: float, mean: float) -> None:
    """Spread and mean come back without bias, and the freedom tells how well the spread is known."""
    rng = np.random.default_rng(6)
    logs, means, freedoms = [], [], []
    for _ in range(100):
        errors = mean + 0.1 * rng.normal(size=putts)
        errors[(errors > 0.0) & (rng.random(putts) < share)] = np.nan
        fit = fit_session(_asked(putts, 3.0), errors)
        logs.append(math.log(fit.spread / 0.1))
        means.append(fit.mean_error)
        freedoms.append(fit.freedom)
    assert float(np.mean(logs)) == pytest.approx(0.0, abs=0.05)
    assert float(np.mean(means)) == pytest.approx(mean, abs=0.01)
    assert float(np.std(logs)) == pytest.approx(1.0 / math.sqrt(2.0 * float(np.mean(freedoms))), rel=0.25)


def test_too_few_putts_and_no_spread_are_refused() -> None:
    with pytest.raises(QualityError, match="session before has 2 putts"):
        fit_session(_asked(3), np.array([0.1, 0.2, np.nan]), "session before")
    with pytest.raises(QualityError, match="no spread"):
        fit_session(_asked(10), np.full(10, 0.1))


def test_drawn_in_variance_against_drawn_values() -> None:
    z = np.random.default_rng(7).normal(size=400_000)
    for limit in (1.0, 2.0, 2.6):
        assert clipped_variance(limit) == pytest.approx(float(np.clip(z, -limit, limit).var()), rel=0.01)
    assert robust_scale([z]) == pytest.approx(1.0, abs=0.01)
