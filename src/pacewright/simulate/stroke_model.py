"""A putting stroke with known truth: the head along the target line, piece by piece.

The pieces, on a clock that starts at takeaway (each one smooth, joined in place and speed):

backswing       x = x_a − (x_a + B)·I(u; p, q), the regularised incomplete beta function of the share u
                of backswing time: it leaves rest like u^p and arrives at rest like (1−u)^q
pause           at rest at the top
downswing       x = −B + τ^r·(c0 + c1·τ), leaving rest like τ^r; c0 and c1 follow from the length B and
                the acceleration wanted at contact, and head speed at contact follows from both
contact         the head keeps the share `speed_kept` of its speed, in an instant, at x = 0
follow-through  speed v⁺·(1−u)^m·(1 + k·u); k follows from the acceleration wanted just after contact
before takeaway an optional forward press or waggle: a smooth bump that ends at rest

The model is ours, for the demo, the tests and the validation; it is no claim about players.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pacewright.core.errors import SimulationError
from pacewright.core.recording import FloatArray


@dataclass(frozen=True, slots=True)
class StrokeModel:
    """Parameters of one stroke; times in seconds, lengths in metres, as in the module's text."""

    backswing_time_s: float = 0.62
    top_pause_s: float = 0.0
    downswing_time_s: float = 0.31
    backswing_length_m: float = 0.22
    impact_acceleration_m_s2: float = 0.0
    speed_kept: float = 0.79
    follow_through_time_s: float = 0.45
    onset_power: float = 2.0
    arrival_power: float = 2.0
    downswing_power: float = 2.0
    finish_power: float = 2.0
    acceleration_after_m_s2: float = -1.0
    address_offset_m: float = 0.0
    press_length_m: float = 0.0
    press_time_s: float = 0.3
    press_lead_s: float = 0.0
    path_angle_rad: float = 0.0

    def __post_init__(self) -> None:
        if self.impact_speed_m_s <= 0:
            raise SimulationError("This acceleration at contact leaves no forward speed there.")

    @property
    def _downswing(self) -> tuple[float, float]:
        """c0, c1 of the downswing from x = 0 and acceleration at contact."""
        r, T = self.downswing_power, self.downswing_time_s
        rows = np.array([[T**r, T ** (r + 1)], [r * (r - 1) * T ** (r - 2), (r + 1) * r * T ** (r - 1)]])
        c0, c1 = np.linalg.solve(rows, [self.backswing_length_m, self.impact_acceleration_m_s2])
        return float(c0), float(c1)

    @property
    def impact_speed_m_s(self) -> float:
        """Head speed just before contact."""
        c0, c1 = self._downswing
        r, T = self.downswing_power, self.downswing_time_s
        return float(r * c0 * T ** (r - 1) + (r + 1) * c1 * T**r)

    @property
    def follow_through_length_m(self) -> float:
        """Distance from contact to the finish."""
        m, k, v = self.finish_power, self._follow_k, self.impact_speed_m_s * self.speed_kept
        # ∫(1−u)^m (1 + k·u) du over 0..1
        return float(v * self.follow_through_time_s * (1 / (m + 1) + k / ((m + 1) * (m + 2))))

    @property
    def _follow_k(self) -> float:
        speed_after = self.impact_speed_m_s * self.speed_kept
        return self.finish_power + self.acceleration_after_m_s2 * self.follow_through_time_s / speed_after

    @property
    def impact_time_s(self) -> float:
        """Contact, on the clock that starts at takeaway."""
        return self.backswing_time_s + self.top_pause_s + self.downswing_time_s

    @property
    def finish_time_s(self) -> float:
        """End of the follow-through, on the clock that starts at takeaway."""
        return self.impact_time_s + self.follow_through_time_s

    def peak_speed_lead_s(self) -> float:
        """Time from the peak of head speed to contact, zero when the head is fastest at contact."""
        time_s = np.linspace(self.impact_time_s - self.downswing_time_s, self.impact_time_s, 20001)[:-1]
        speed = self.velocity_m_s(time_s)
        if self.impact_speed_m_s >= speed.max():
            return 0.0
        return float(self.impact_time_s - time_s[speed.argmax()])

    def position_m(self, time_s: FloatArray) -> FloatArray:
        """Head along the target line, (n,), at times after takeaway (n,)."""
        return self._pieces(time_s, derivative=0)

    def velocity_m_s(self, time_s: FloatArray) -> FloatArray:
        """Head velocity along the target line, (n,), at times after takeaway (n,)."""
        return self._pieces(time_s, derivative=1)

    def _pieces(self, time_s: FloatArray, *, derivative: int) -> FloatArray:
        start_down = self.backswing_time_s + self.top_pause_s
        at_rest = {0: 1.0, 1: 0.0}[derivative]
        out = np.full_like(time_s, self.address_offset_m * at_rest)
        out += self._press(time_s, derivative)
        back = (time_s >= 0) & (time_s < self.backswing_time_s)
        out[back] = self._backswing(time_s[back], derivative)
        out[(time_s >= self.backswing_time_s) & (time_s < start_down)] = -self.backswing_length_m * at_rest
        down = (time_s >= start_down) & (time_s < self.impact_time_s)
        out[down] = self._downswing_at(time_s[down] - start_down, derivative)
        through = (time_s >= self.impact_time_s) & (time_s < self.finish_time_s)
        out[through] = self._follow_at(time_s[through] - self.impact_time_s, derivative)
        out[time_s >= self.finish_time_s] = self.follow_through_length_m * at_rest
        return out

    def _press(self, time_s: FloatArray, derivative: int) -> FloatArray:
        """A bump s²(1−s)²·16·length, at rest at both ends."""
        start = -self.press_lead_s - self.press_time_s
        s = np.clip((time_s - start) / self.press_time_s, 0.0, 1.0)
        if derivative == 0:
            return 16.0 * self.press_length_m * s**2 * (1 - s) ** 2
        return 16.0 * self.press_length_m * 2 * s * (1 - s) * (1 - 2 * s) / self.press_time_s

    def _backswing(self, time_s: FloatArray, derivative: int) -> FloatArray:
        from scipy.special import beta, betainc

        u = time_s / self.backswing_time_s
        travel = self.address_offset_m + self.backswing_length_m
        p, q = self.onset_power, self.arrival_power
        if derivative == 0:
            return np.asarray(self.address_offset_m - travel * betainc(p, q, u))
        return np.asarray(-travel * u ** (p - 1) * (1 - u) ** (q - 1) / beta(p, q) / self.backswing_time_s)

    def _downswing_at(self, tau: FloatArray, derivative: int) -> FloatArray:
        c0, c1 = self._downswing
        r = self.downswing_power
        if derivative == 0:
            return -self.backswing_length_m + c0 * tau**r + c1 * tau ** (r + 1)
        return r * c0 * tau ** (r - 1) + (r + 1) * c1 * tau**r

    def _follow_at(self, tau: FloatArray, derivative: int) -> FloatArray:
        m, k, T = self.finish_power, self._follow_k, self.follow_through_time_s
        v = self.impact_speed_m_s * self.speed_kept
        u = tau / T
        if derivative == 1:
            return v * (1 - u) ** m * (1 + k * u)
        # ∫0..u (1−w)^m (1 + k·w) dw, in terms of s = 1 − w
        s = 1 - u
        return v * T * ((1 + k) * (1 - s ** (m + 1)) / (m + 1) - k * (1 - s ** (m + 2)) / (m + 2))

    def truth(self) -> dict[str, float]:
        """True values of the measures of the registry that a trajectory can show."""
        v, a, T = self.impact_speed_m_s, self.impact_acceleration_m_s2, self.downswing_time_s
        return {
            "backswing_time_s": self.backswing_time_s,
            "top_pause_s": self.top_pause_s,
            "downswing_time_s": T,
            "follow_through_time_s": self.follow_through_time_s,
            "time_ratio": self.backswing_time_s / T,
            "backswing_length_m": self.backswing_length_m,
            "follow_through_length_m": self.follow_through_length_m,
            "length_ratio": self.follow_through_length_m / self.backswing_length_m,
            "impact_speed_m_s": v,
            "impact_acceleration_m_s2": a,
            "impact_acceleration_index": a * T / v,
            "peak_speed_lead_s": self.peak_speed_lead_s(),
            "collision_speed_kept": self.speed_kept,
            "path_angle_deg": float(np.degrees(self.path_angle_rad)),
        }


def random_stroke(rng: np.random.Generator, *, rehearsal: bool = False) -> StrokeModel:
    """A stroke drawn over the whole range that a coach may meet (steady, rushed, braking, pressed)."""
    for _ in range(1000):
        backswing_time_s = rng.uniform(0.45, 1.05)
        ratio = rng.uniform(1.5, 3.0)
        acceleration = rng.uniform(-3.0, 6.0)
        speed_kept = 1.0 if rehearsal else rng.uniform(0.75, 0.90)
        press = rng.random()
        try:
            model = StrokeModel(
                backswing_time_s=backswing_time_s,
                top_pause_s=rng.choice([0.0, 0.0, rng.uniform(0.02, 0.15)]),
                downswing_time_s=backswing_time_s / ratio,
                backswing_length_m=rng.uniform(0.08, 0.40),
                impact_acceleration_m_s2=acceleration,
                speed_kept=speed_kept,
                follow_through_time_s=rng.uniform(0.3, 0.7),
                onset_power=rng.choice([2.0, 3.0, rng.uniform(2.0, 3.0)]),
                arrival_power=rng.choice([2.0, rng.uniform(2.0, 3.0)]),
                downswing_power=rng.choice([2.0, rng.uniform(2.0, 2.6)]),
                finish_power=rng.choice([1.0, 2.0]),
                acceleration_after_m_s2=acceleration if rehearsal else rng.uniform(-3.0, 2.0),
                address_offset_m=-rng.uniform(0.0, 0.004),
                press_length_m=rng.uniform(0.004, 0.02) if press < 0.3 else 0.0,
                press_time_s=rng.uniform(0.25, 0.5),
                press_lead_s=rng.choice([0.0, rng.uniform(0.05, 0.4)]),
                path_angle_rad=float(np.radians(rng.uniform(-5, 5))),
            )
        except SimulationError:
            continue
        if _is_a_putting_stroke(model):
            return model
    raise SimulationError("No putting stroke could be drawn from these ranges.")


def _is_a_putting_stroke(model: StrokeModel) -> bool:
    """Forward all the way down and through, at a speed that putts have."""
    start = model.backswing_time_s + model.top_pause_s
    down = model.velocity_m_s(np.linspace(start + 1e-3, model.impact_time_s - 1e-6, 80))
    through = model.velocity_m_s(np.linspace(model.impact_time_s, model.finish_time_s - 1e-3, 40))
    return bool(
        0.4 <= model.impact_speed_m_s <= 4.0
        and down.min() > 0
        and through.min() >= 0
        and 0.05 < model.follow_through_length_m < 0.9
    )
