"""Contact: the jump of head speed, and the one-sided limits before it."""

from __future__ import annotations

import numpy as np
import pytest

from pacewright.core.recording import FloatArray
from pacewright.simulate.stroke_model import StrokeModel
from pacewright.stroke.contact import ContactFit, Swing, fit_contact

RATE_HZ, NOISE_M = 240.0, 0.00015


def fitted(model: StrokeModel, seed: int, *, place_m: float | None = None) -> ContactFit:
    """The contact fit on samples around the model's contact; time zero is contact."""
    t, x = sampled(model, seed)
    swing = Swing(model.backswing_length_m, model.downswing_time_s, model.impact_speed_m_s)
    return fit_contact(t, x, NOISE_M, swing, centre_s=0.006, half_range_s=0.03, place_m=place_m)


def sampled(model: StrokeModel, seed: int) -> tuple[FloatArray, FloatArray]:
    rng = np.random.default_rng(seed)
    t = np.arange(-0.85 * model.downswing_time_s + rng.uniform(0, 1 / RATE_HZ), 0.12, 1 / RATE_HZ)
    return t, model.position_m(t + model.impact_time_s) + rng.normal(0, NOISE_M, t.size)


@pytest.mark.parametrize("acceleration", [-3.0, 0.0, 4.0])
def test_limits_before_contact_are_unbiased(acceleration: float) -> None:
    model = StrokeModel(impact_acceleration_m_s2=acceleration)
    fits = [fitted(model, seed) for seed in range(40)]
    speed = np.array([fit.state[1] for fit in fits])
    found = np.array([fit.state[2] for fit in fits])
    assert np.mean(speed) == pytest.approx(model.impact_speed_m_s, rel=0.004)
    assert np.std(speed) < 0.015 * model.impact_speed_m_s
    # A natural end condition reads an acceleration of zero here: forbidden (docs/methods/contact.md).
    assert np.mean(found) == pytest.approx(acceleration, abs=0.25)


def test_time_and_loss_are_found() -> None:
    model = StrokeModel(speed_kept=0.8)
    fits = [fitted(model, seed) for seed in range(40)]
    assert np.median([abs(fit.time_s) for fit in fits]) < 0.0006
    assert np.mean([fit.state[3] / fit.state[1] for fit in fits]) == pytest.approx(0.8, abs=0.01)
    assert min(fit.log_odds_of_ball for fit in fits) > 5


def test_smoothing_across_contact_would_read_low() -> None:
    """Derived in the reference: about 10 % low with a 20 % drop; the split fit is not."""
    model = StrokeModel(speed_kept=0.8)
    t, x = sampled(model, 0)
    near = np.abs(t) < 0.05
    across = np.polynomial.Polynomial.fit(t[near], x[near], 3).deriv()(0.0)
    assert across < 0.94 * model.impact_speed_m_s
    assert fitted(model, 0).state[1] == pytest.approx(model.impact_speed_m_s, rel=0.02)


def test_no_ball_no_odds() -> None:
    model = StrokeModel(speed_kept=1.0, acceleration_after_m_s2=0.0)
    assert max(fitted(model, seed).log_odds_of_ball for seed in range(20)) < 0


def test_a_seen_departure_settles_the_time() -> None:
    model = StrokeModel(speed_kept=0.9)
    t, x = sampled(model, 5)
    swing = Swing(model.backswing_length_m, model.downswing_time_s, model.impact_speed_m_s)
    alone = fitted(model, 5)
    with_ball = fit_contact(
        t, x, NOISE_M, swing, centre_s=0.0, half_range_s=0.03, place_m=None, seen_to_leave=(0.0, 0.0001)
    )
    assert with_ball.time_sd_s < alone.time_sd_s
    assert abs(with_ball.time_s) < 0.0003
