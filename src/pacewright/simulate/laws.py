"""Strokes that follow laws of movement from the literature and the trade, with known truth.

They share no formula with `stroke_model` and none with the fits, so that accuracy is not judged on one
kind of stroke alone. After contact each runs on as before, scaled by the share of speed kept.

half cosine      x = (F−B)/2 − (F+B)/2·cos(π·τ/P): the movement law of the practice station
minimum jerk     x = −B + (B+F)·(10u³ − 15u⁴ + 6u⁵), u = τ/P (Flash and Hogan 1985, from memory)
driven pendulum  x = −A·(2 sin ωt − sin 2ωt): ratio exactly 2, no acceleration at contact (Grober 2009)
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from pacewright.core.errors import SimulationError
from pacewright.core.recording import FloatArray

Law = Literal["half cosine", "minimum jerk", "driven pendulum"]


@dataclass(frozen=True, slots=True)
class LawStroke:
    """A stroke by one of the laws. ``through_m`` is F, where the law would end without a ball."""

    law: Law
    backswing_time_s: float = 0.62
    top_pause_s: float = 0.0
    period_s: float = 0.62
    backswing_length_m: float = 0.22
    through_m: float = 0.22
    speed_kept: float = 0.79
    press_length_m: float = 0.0
    press_time_s: float = 0.3
    press_lead_s: float = 0.0
    address_offset_m: float = 0.0
    path_angle_rad: float = 0.0

    def __post_init__(self) -> None:
        if self.law == "driven pendulum" and self.top_pause_s:
            raise SimulationError("A driven pendulum does not pause at the top.")

    @property
    def downswing_time_s(self) -> float:
        """From the start of the downswing to where the law passes the ball."""
        if self.law == "driven pendulum":
            return self.backswing_time_s / 2.0
        from scipy.optimize import brentq

        def place(tau: float) -> float:
            return float(self._down(np.array([tau]), 0)[0])

        return float(brentq(place, 1e-6, self.period_s))

    @property
    def impact_time_s(self) -> float:
        """Contact, on the clock that starts at takeaway."""
        return self.backswing_time_s + self.top_pause_s + self.downswing_time_s

    @property
    def finish_time_s(self) -> float:
        """End of the follow-through, on the clock that starts at takeaway."""
        if self.law == "driven pendulum":
            return 2.0 * self.backswing_time_s
        return self.backswing_time_s + self.top_pause_s + self.period_s

    @property
    def follow_through_length_m(self) -> float:
        """Distance from contact to the finish."""
        end = self.finish_time_s - self.backswing_time_s - self.top_pause_s
        return self.speed_kept * float(self._down(np.array([end]), 0)[0])

    def position_m(self, time_s: FloatArray) -> FloatArray:
        """Head along the target line, (n,), at times after takeaway (n,)."""
        return self._pieces(time_s, 0)

    def velocity_m_s(self, time_s: FloatArray) -> FloatArray:
        """Head velocity along the target line, (n,), at times after takeaway (n,)."""
        return self._pieces(time_s, 1)

    def _pieces(self, time_s: FloatArray, derivative: int) -> FloatArray:
        out = np.zeros_like(time_s)
        back = (time_s > 0) & (time_s < self.backswing_time_s)
        out[back] = self._back(time_s[back], derivative)
        down_from = self.backswing_time_s + self.top_pause_s
        if derivative == 0:
            out[(time_s >= self.backswing_time_s) & (time_s < down_from)] = -self.backswing_length_m
        contact_s = self.impact_time_s
        down = (time_s >= down_from) & (time_s < contact_s)
        out[down] = self._down(time_s[down] - down_from, derivative)
        after = (time_s >= contact_s) & (time_s < self.finish_time_s)
        out[after] = self.speed_kept * self._down(time_s[after] - down_from, derivative)
        if derivative == 0:
            out[time_s >= self.finish_time_s] = self.follow_through_length_m
        return out

    def _back(self, t: FloatArray, derivative: int) -> FloatArray:
        T, B = self.backswing_time_s, self.backswing_length_m
        if self.law == "driven pendulum":
            return self._pendulum(t, derivative)
        u = t / T
        if self.law == "half cosine":
            if derivative == 0:
                return -B * (1 - np.cos(np.pi * u)) / 2
            return -B * np.pi / T * np.sin(np.pi * u) / 2
        return -B * _minimum_jerk(u, derivative) / T**derivative

    def _down(self, tau: FloatArray, derivative: int) -> FloatArray:
        B, F, P = self.backswing_length_m, self.through_m, self.period_s
        if self.law == "driven pendulum":
            return self._pendulum(tau + self.backswing_time_s, derivative)
        if self.law == "half cosine":
            if derivative == 0:
                return (F - B) / 2 - (F + B) / 2 * np.cos(np.pi * tau / P)
            return (F + B) / 2 * np.pi / P * np.sin(np.pi * tau / P)
        motion = (B + F) * _minimum_jerk(tau / P, derivative) / P**derivative
        return motion - B if derivative == 0 else motion

    def _pendulum(self, t: FloatArray, derivative: int) -> FloatArray:
        omega = 2 * np.pi / 3 / self.backswing_time_s
        A = self.backswing_length_m / (2 * np.sin(2 * np.pi / 3) - np.sin(4 * np.pi / 3))
        if derivative == 0:
            return np.asarray(-A * (2 * np.sin(omega * t) - np.sin(2 * omega * t)))
        if derivative == 1:
            return np.asarray(-2 * A * omega * (np.cos(omega * t) - np.cos(2 * omega * t)))
        return np.asarray(2 * A * omega**2 * (np.sin(omega * t) - 2 * np.sin(2 * omega * t)))

    def _acceleration_at_contact(self) -> float:
        B, F, P, T = self.backswing_length_m, self.through_m, self.period_s, self.downswing_time_s
        if self.law == "driven pendulum":
            return 0.0
        if self.law == "half cosine":
            return float((np.pi / P) ** 2 * (F - B) / 2)
        return float((B + F) * _minimum_jerk(np.array([T / P]), 2)[0] / P**2)

    def truth(self) -> dict[str, float]:
        """True values of the measures of the registry that a trajectory can show."""
        T = self.downswing_time_s
        v = float(self._down(np.array([T]), 1)[0])
        a = self._acceleration_at_contact()
        return {
            "backswing_time_s": self.backswing_time_s,
            "top_pause_s": self.top_pause_s,
            "downswing_time_s": T,
            "follow_through_time_s": self.finish_time_s - self.impact_time_s,
            "time_ratio": self.backswing_time_s / T,
            "backswing_length_m": self.backswing_length_m,
            "follow_through_length_m": self.follow_through_length_m,
            "length_ratio": self.follow_through_length_m / self.backswing_length_m,
            "impact_speed_m_s": v,
            "impact_acceleration_m_s2": a,
            "impact_acceleration_index": a * T / v,
            "collision_speed_kept": self.speed_kept,
            "path_angle_deg": float(np.degrees(self.path_angle_rad)),
        }


def _minimum_jerk(u: FloatArray, derivative: int) -> FloatArray:
    if derivative == 0:
        return u**3 * (10 - 15 * u + 6 * u**2)
    if derivative == 1:
        return 30 * u**2 * (1 - u) ** 2
    return 60 * u * (1 - 3 * u + 2 * u**2)


def random_law_stroke(rng: np.random.Generator, law: Law, *, rehearsal: bool = False) -> LawStroke:
    """A stroke by ``law`` over the range that a coach may meet."""
    back_s, length = rng.uniform(0.5, 1.0), rng.uniform(0.08, 0.35)
    pause = law != "driven pendulum" and rng.random() < 0.3
    return LawStroke(
        law=law,
        backswing_time_s=back_s,
        top_pause_s=rng.uniform(0.02, 0.15) if pause else 0.0,
        period_s=rng.uniform(0.5, 0.8),
        backswing_length_m=length,
        through_m=length * rng.uniform(0.8, 1.8),
        speed_kept=1.0 if rehearsal else rng.uniform(0.75, 0.9),
        path_angle_rad=float(np.radians(rng.uniform(-4, 4))),
    )
