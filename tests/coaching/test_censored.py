"""Normal errors known only to lie in an interval: moments against quadrature, estimates against the truth."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import truncnorm

from pacewright.coaching.censored import fit_censored, truncated_draws, truncated_moments


@settings(max_examples=60, deadline=None)
@given(
    mean=st.floats(-3.0, 3.0),
    sd=st.floats(0.05, 2.0),
    low=st.floats(-4.0, 3.0),
    width=st.floats(0.05, 5.0),
)
def test_moments_agree_with_scipy_where_it_is_exact(mean: float, sd: float, low: float, width: float) -> None:
    a, b = (low - mean) / sd, (low + width - mean) / sd
    if min(abs(a), abs(b)) > 8.0 and a * b > 0.0:  # scipy's own digits fail in the far tail
        return
    expected = truncnorm(a, b, loc=mean, scale=sd)
    got_mean, got_variance = truncated_moments(
        np.array([mean]), np.array([sd]), np.array([low]), np.array([low + width])
    )
    assert got_mean[0] == pytest.approx(float(expected.mean()), abs=1e-6 * max(sd, 1.0))
    assert got_variance[0] == pytest.approx(float(expected.var()), abs=1e-5 * max(sd, 1.0) ** 2)


@settings(max_examples=60, deadline=None)
@given(mean=st.floats(-1e3, 1e3), sd=st.floats(1e-3, 10.0), low=st.floats(-50.0, 50.0))
def test_moments_stay_within_the_limits_however_far_the_tail(mean: float, sd: float, low: float) -> None:
    high = low + 1.0
    one = np.array
    middle, variance = truncated_moments(one([mean]), one([sd]), one([low]), one([high]))
    assert low - 1e-6 <= middle[0] <= high + 1e-6
    assert 0.0 <= variance[0] <= min(sd**2, 0.25) + 1e-6
    drawn = truncated_draws(one([mean]), sd, low, one([high]), np.random.default_rng(1))
    assert low <= drawn[0] <= high


def test_draws_follow_the_truncated_distribution() -> None:
    rng = np.random.default_rng(2)
    drawn = truncated_draws(np.full(20_000, -0.1), 0.1, 0.0, np.full(20_000, 0.4), rng)
    expected = truncnorm(1.0, 5.0, loc=-0.1, scale=0.1)
    assert drawn.mean() == pytest.approx(float(expected.mean()), abs=0.001)
    assert drawn.std() == pytest.approx(float(expected.std()), rel=0.02)


def test_without_limits_the_fit_is_the_plain_mean_and_sd() -> None:
    values = np.array([0.1, -0.2, 0.05, 0.3, -0.15])
    fit = fit_censored(values, np.zeros(5), np.ones(5))
    assert fit.mean == pytest.approx(values.mean())
    assert fit.sd == pytest.approx(values.std(ddof=1))
    assert fit.freedom == 4


def test_hidden_values_bias_neither_mean_nor_sd() -> None:
    """Everything from 0 to 0.6 is hidden, as by a hole; taking those as 0 would make the SD too small."""
    rng = np.random.default_rng(3)
    means, sds, naive = [], [], []
    for _ in range(200):
        true = rng.normal(0.02, 0.1, 60)
        hidden = (true > 0.0) & (true < 0.6) & (rng.uniform(size=60) < 0.6)
        fit = fit_censored(np.where(hidden, math.nan, true), np.zeros(60), np.full(60, 0.6))
        means.append(fit.mean)
        sds.append(fit.sd)
        naive.append(np.where(hidden, 0.0, true).std(ddof=1))
    assert np.mean(means) == pytest.approx(0.02, abs=0.003)
    assert np.mean(sds) == pytest.approx(0.1, rel=0.03)
    assert np.mean(naive) < 0.09


def test_freedom_says_how_far_the_spread_strays() -> None:
    """Half of all values hidden between 0 and 0.6: the spread of log SDs over samples is that of the freedom.

    For f degrees of freedom the variance of log SD is near 1/(2f). Hidden values tell less of the spread than
    of the mean, so counting them by the mean would promise too much.
    """
    rng = np.random.default_rng(4)
    logs, freedoms = [], []
    for _ in range(600):
        true = rng.normal(0.0, 0.1, 40)
        hidden = (true > 0.0) & (true < 0.6)
        fit = fit_censored(np.where(hidden, math.nan, true), np.zeros(40), np.full(40, 0.6))
        logs.append(math.log(fit.sd))
        freedoms.append(fit.freedom)
    assert float(np.var(logs)) == pytest.approx(0.5 / float(np.mean(freedoms)), rel=0.2)
