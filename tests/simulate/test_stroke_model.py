"""The simulated strokes keep to their own description: truth is only as good as this."""

from __future__ import annotations

import numpy as np
import pytest

from pacewright.simulate.laws import LawStroke, random_law_stroke
from pacewright.simulate.sampling import Sampling, record_trajectory
from pacewright.simulate.stroke_model import StrokeModel, random_stroke

SEEDS = range(12)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("source", ["model", "half cosine", "minimum jerk", "driven pendulum"])
def test_velocity_is_the_slope_of_position(seed: int, source: str) -> None:
    rng = np.random.default_rng(seed)
    stroke = random_stroke(rng) if source == "model" else random_law_stroke(rng, source)  # type: ignore[arg-type]
    t = np.linspace(-0.9, stroke.finish_time_s + 0.2, 40001)
    slope = np.gradient(stroke.position_m(t), t)
    # At contact the speed jumps, and a start like t² has a kink in acceleration.
    away = np.abs(t - stroke.impact_time_s) > 0.001
    assert np.abs(slope - stroke.velocity_m_s(t))[away].max() < 0.02


@pytest.mark.parametrize("seed", SEEDS)
def test_truth_is_what_the_curve_does(seed: int) -> None:
    model = random_stroke(np.random.default_rng(seed))
    truth, tc, h = model.truth(), model.impact_time_s, 1e-5
    before = model.position_m(np.array([tc - 3 * h, tc - 2 * h, tc - h]))
    assert (before[2] - before[1]) / h == pytest.approx(truth["impact_speed_m_s"], rel=1e-3)
    speeds = model.velocity_m_s(np.array([tc - 2 * h, tc - h]))
    assert (speeds[1] - speeds[0]) / h == pytest.approx(truth["impact_acceleration_m_s2"], abs=0.05)
    after = model.velocity_m_s(np.array([tc + 1e-9]))[0]
    assert after / truth["impact_speed_m_s"] == pytest.approx(truth["collision_speed_kept"], rel=1e-6)
    assert model.position_m(np.array([tc]))[0] == pytest.approx(0.0, abs=1e-9)
    top = model.position_m(np.array([model.backswing_time_s]))[0]
    assert -top == pytest.approx(truth["backswing_length_m"], rel=1e-9)


def test_half_cosine_obeys_the_law_of_markers() -> None:
    """Contact P/π·arccos((F−B)/(F+B)) after the top, at the law's speed and acceleration (derived)."""
    B, F, P = 0.2, 0.3, 0.66
    truth = LawStroke("half cosine", period_s=P, backswing_length_m=B, through_m=F).truth()
    angle = np.arccos((F - B) / (F + B))
    assert truth["downswing_time_s"] == pytest.approx(P / np.pi * angle, rel=1e-9)
    assert truth["impact_speed_m_s"] == pytest.approx((F + B) / 2 * np.pi / P * np.sin(angle), rel=1e-9)
    assert truth["impact_acceleration_m_s2"] == pytest.approx((np.pi / P) ** 2 * (F - B) / 2, rel=1e-9)


def test_recording_keeps_its_rate_and_loses_its_share() -> None:
    rng = np.random.default_rng(0)
    head = record_trajectory([StrokeModel()], rng, Sampling(240, dropped_share=0.1)).recording.traces["head"]
    span = head.time_s[-1] - head.time_s[0]
    assert head.rate_hz == pytest.approx(240, rel=1e-6)
    assert head.time_s.size == pytest.approx(0.9 * span * 240, rel=0.05)
