"""Glitches are single samples far off; what moves, however fast, is none."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from pacewright.signals.glitches import glitches

TIME_S = np.arange(0, 2, 1 / 240)
SWING_M = -0.2 * np.cos(2 * np.pi * TIME_S / 1.2)


@given(index=st.integers(1, TIME_S.size - 2), size_m=st.floats(0.02, 1e3), sign=st.sampled_from([-1, 1]))
def test_one_sample_far_off_is_found_and_no_other(index: int, size_m: float, sign: int) -> None:
    value = SWING_M.copy()
    value[index] += sign * size_m
    assert np.flatnonzero(glitches(TIME_S, value, 1.0)).tolist() == [index]


@given(kept=st.floats(0.5, 1.0), speed_m_s=st.floats(0.1, 5.0), noise_m=st.floats(0, 0.001))
def test_contact_and_noise_are_no_glitches(kept: float, speed_m_s: float, noise_m: float) -> None:
    rng = np.random.default_rng(0)
    tau = TIME_S - 1.0
    value = speed_m_s * np.where(tau < 0, tau, kept * tau) + rng.normal(0, noise_m, tau.size)
    assert not glitches(TIME_S, value, 2.5).any()


def test_too_few_samples_hold_none() -> None:
    assert not glitches(TIME_S[:4], np.array([0.0, 9.0, 0.0, 0.0]), 1.0).any()
