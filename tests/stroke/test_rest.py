"""Starts and ends of motion: fitted, whatever power the start has."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pacewright.core.recording import FloatArray
from pacewright.stroke.rest import Side, fit_rest

RATE_HZ, NOISE_M = 240.0, 0.00015


def start_like(power: float, start_s: float, seed: int) -> tuple[FloatArray, FloatArray]:
    """At rest, then 0.2 m away within 0.6 s along the incomplete beta function of that power."""
    from scipy.special import betainc

    rng = np.random.default_rng(seed)
    t = np.arange(-0.35, start_s + 0.32, 1 / RATE_HZ)
    x = -0.2 * betainc(power, 2.0, np.clip((t - start_s) / 0.6, 0.0, 1.0))
    return t, x + rng.normal(0, NOISE_M, t.size)


@pytest.mark.parametrize("power", [2.0, 2.4, 3.0])
def test_start_is_found_where_a_threshold_is_late(power: float) -> None:
    errors, late = [], []
    for seed in range(25):
        start_s = 0.004 * seed / 25
        t, x = start_like(power, start_s, seed)
        fit = fit_rest(
            t, x, NOISE_M, centre_s=0.03, half_range_s=0.14, arrival=None, departure=Side(0.1, 0.3)
        )
        errors.append(fit.start_of_departure_s - start_s)
        late.append(t[np.flatnonzero(x < -0.003)[0]] - start_s)
    assert np.sqrt(np.mean(np.square(errors))) < 0.008
    assert np.mean(late) > 3 * np.sqrt(np.mean(np.square(errors))), "a threshold of 3 mm is later by far"


@pytest.mark.parametrize("pause_s", [0.0, 0.06, 0.12])
def test_pause_belongs_to_neither_side(pause_s: float) -> None:
    found, standardised = [], []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        t = np.arange(-0.28, pause_s + 0.25, 1 / RATE_HZ)
        before, after = np.minimum(t, 0.0), np.maximum(t - pause_s, 0.0)
        x = -0.2 + 0.9 * before**2 + 2.2 * after**2 + rng.normal(0, NOISE_M, t.size)
        fit = fit_rest(
            t, x, NOISE_M, centre_s=pause_s / 2, half_range_s=0.05,
            arrival=Side(0.08, 0.28), departure=Side(0.08, 0.25), longest_pause_s=0.25,
        )  # fmt: skip
        found.append(fit.start_of_departure_s - fit.end_of_arrival_s)
        assert fit.rest_value == pytest.approx(-0.2, abs=0.001)
        pause_var = float(np.array([-1, 1]) @ fit.covariance_s2 @ np.array([-1, 1]))
        standardised.append((found[-1] - pause_s) / np.sqrt(pause_var + 1e-6))
    # A pause that could as well be a flat top is drawn towards none, and its uncertainty says so.
    assert np.mean(found) == pytest.approx(pause_s, abs=0.015)
    assert np.sqrt(np.mean(np.square(standardised))) < 1.5


@settings(max_examples=25, deadline=None)
@given(shift_s=st.floats(-50, 50), offset_m=st.floats(-3, 3))
def test_clock_and_origin_do_not_matter(shift_s: float, offset_m: float) -> None:
    t, x = start_like(2.5, 0.0, 1)
    side = Side(0.1, 0.3)
    here = fit_rest(t, x, NOISE_M, centre_s=0.0, half_range_s=0.1, arrival=None, departure=side)
    there = fit_rest(
        t + shift_s, x + offset_m, NOISE_M, centre_s=shift_s, half_range_s=0.1, arrival=None, departure=side
    )
    assert there.start_of_departure_s - shift_s == pytest.approx(here.start_of_departure_s, abs=2e-4)
    assert there.rest_value - offset_m == pytest.approx(here.rest_value, abs=1e-4)


def test_velocities_tell_the_same_start() -> None:
    rng = np.random.default_rng(3)
    t = np.arange(-0.35, 0.3, 1 / 400)
    u = np.clip(t / 0.6, 0.0, 1.0)
    speed = 0.01 - 0.2 / 0.6 * 6 * u * (1 - u) + rng.normal(0, 0.004, t.size)
    fit = fit_rest(
        t,
        speed,
        0.004,
        centre_s=0.03,
        half_range_s=0.12,
        arrival=None,
        departure=Side(0.1, 0.3),
        derivative=1,
    )
    assert fit.start_of_departure_s == pytest.approx(0.0, abs=0.01)
    assert fit.rest_value == pytest.approx(0.01, abs=0.004), "the rest value of a velocity is its bias"
