"""Smoothness against the values of Balasubramanian et al., JNER 12:112 (2015): read and derived."""

from __future__ import annotations

import numpy as np
import pytest

from pacewright.core.errors import QualityError
from pacewright.stroke.smoothness import log_dimensionless_jerk, spectral_arc_length

TIME_S = np.arange(-1.0, 1.0, 0.01)
BELL = np.exp(-5.0 * TIME_S**2)


def test_bell_has_the_published_spectral_arc_length() -> None:
    assert float(spectral_arc_length(BELL, 100.0)) == pytest.approx(-1.41403, abs=2e-5)


def test_bell_has_the_published_jerk() -> None:
    assert log_dimensionless_jerk(BELL, 100.0) == pytest.approx(-5.81636, abs=2e-5)


def test_minimum_jerk_speed_has_the_published_jerk() -> None:
    u = np.linspace(0.0, 1.0, 2001)
    speed = 30 * u**2 * (1 - u) ** 2
    assert log_dimensionless_jerk(speed, 2000.0) == pytest.approx(-5.322, abs=0.01)  # derived


def test_profiles_are_judged_one_by_one() -> None:
    both = np.stack([BELL, BELL * (1 + 0.3 * np.sin(40 * TIME_S))])
    together = spectral_arc_length(both, 100.0)
    assert together[0] == pytest.approx(float(spectral_arc_length(BELL, 100.0)))
    assert together[1] < together[0], "a wobble makes the movement less smooth"


def test_speed_is_scale_free() -> None:
    assert float(spectral_arc_length(7.0 * BELL, 100.0)) == pytest.approx(
        float(spectral_arc_length(BELL, 100.0))
    )


def test_too_few_samples_are_refused() -> None:
    with pytest.raises(QualityError, match="at least 4"):
        spectral_arc_length(BELL[:3], 100.0)
    with pytest.raises(QualityError, match="at least 4"):
        log_dimensionless_jerk(BELL[:3], 100.0)
