"""How the head, the ball and the camera's clock belong together: the true movement behind a clip.

The head along the target line comes from `simulate` (its contact jump with it). Here it gets the rest of its
path: an arc to the inside, a rise to both sides of a low point, a face that opens and closes. The ball leaves
with momentum conserved, may hop, skids and then rolls (level ground, textbook mechanics).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pacewright.core.equipment import BALL_RADIUS_M
from pacewright.core.recording import FloatArray
from pacewright.simulate.laws import LawStroke
from pacewright.simulate.stroke_model import StrokeModel
from validation.clips.camera import rotations

GRAVITY_M_S2 = 9.81


@dataclass(frozen=True)
class Path:
    """Where the head goes as it moves along the line, for a player on the side ``side`` (+1 or −1 of y).

    The line of movement is that of the face where it meets the ball: at the height of the ball's centre.
    """

    side: int = 1
    path_angle_rad: float = 0.0
    arc_radius_m: float = 4.0
    swing_radius_m: float = 1.35
    low_point_m: float = 0.02
    clearance_m: float = 0.002
    face_angle_rad: float = 0.0
    face_rate_rad_m: float = 0.4

    def place(self, along_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Face centre at the sole (..., 3) and rotation (..., 3, 3) of the head, ``along_m`` on the line."""
        x = along_m
        y = x * np.tan(self.path_angle_rad) + self.side * x**2 / (2 * self.arc_radius_m)
        z = self.clearance_m + (x - self.low_point_m) ** 2 / (2 * self.swing_radius_m)
        yaw = self.face_angle_rad + self.side * self.face_rate_rad_m * x
        tilt = -(x - self.low_point_m) / self.swing_radius_m
        zero = np.zeros_like(x)
        rotation = rotations(np.stack([zero, zero, yaw], -1)) @ rotations(np.stack([zero, tilt, zero], -1))
        # The head tilts as it swings: the sole goes a little farther than the place of contact.
        up = rotation @ np.array([0.0, 0.0, BALL_RADIUS_M])
        return np.stack([x - BALL_RADIUS_M - up[..., 0], y - up[..., 1], z], axis=-1), rotation


@dataclass(frozen=True)
class BallRun:
    """A ball's run from contact: a hop, a skid and a roll along one direction."""

    speed_m_s: float
    direction_rad: float = 0.0
    lift_rad: float = 0.0
    sliding_friction: float = 0.3
    rolling_deceleration_m_s2: float = 0.5

    @property
    def flight_s(self) -> float:
        """How long the hop lasts; it lands without bouncing again."""
        return 2.0 * self.speed_m_s * np.sin(self.lift_rad) / GRAVITY_M_S2

    @property
    def roll_from_s(self) -> float:
        """When pure roll begins, after contact."""
        return self.flight_s + 2.0 / 7.0 * self._level / (self.sliding_friction * GRAVITY_M_S2)

    @property
    def _level(self) -> float:
        return float(self.speed_m_s * np.cos(self.lift_rad))

    def at(self, tau_s: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Distance, height over the ground's rest and turned angle at times after contact, each (...)."""
        v, mu_g = self._level, self.sliding_friction * GRAVITY_M_S2
        tau = np.maximum(tau_s, 0.0)
        air = np.minimum(tau, self.flight_s)
        skid_s = self.roll_from_s - self.flight_s
        skid = np.clip(tau - self.flight_s, 0.0, skid_s)
        rolls_for = 5.0 / 7.0 * v / self.rolling_deceleration_m_s2
        roll = np.clip(tau - self.roll_from_s, 0.0, rolls_for)
        rolled = 5.0 / 7.0 * v * roll - 0.5 * self.rolling_deceleration_m_s2 * roll**2
        distance = v * air + v * skid - 0.5 * mu_g * skid**2 + rolled
        height = self.speed_m_s * np.sin(self.lift_rad) * air - 0.5 * GRAVITY_M_S2 * air**2
        angle = (1.25 * mu_g * skid**2 + rolled) / BALL_RADIUS_M
        return distance, height, angle


@dataclass(frozen=True)
class Timeline:
    """One putt on the clip's clock, with what comes before it.

    ``model`` None: nobody moves. ``waggle_m`` draws the head back and returns it, before the address;
    ``rehearsal`` is a whole stroke beside the ball, ``aside_m`` nearer the player, before everything else.
    ``ball`` None: no ball is hit (or there is none).
    """

    model: StrokeModel | LawStroke | None
    path: Path
    ball: BallRun | None
    still_before_s: float = 0.7
    still_after_s: float = 0.35
    waggle_m: float = 0.0
    waggle_cycle_s: float = 0.6
    waggle_cycles: int = 2
    rehearsal: StrokeModel | None = None
    aside_m: float = 0.10
    step_in_s: float = 0.9
    still_length_s: float = 1.5

    @property
    def _waggled_s(self) -> float:
        return self.waggle_cycles * self.waggle_cycle_s if self.waggle_m else 0.0

    @property
    def _rehearsed_s(self) -> float:
        if self.rehearsal is None:
            return 0.0
        return 0.5 + self.rehearsal.finish_time_s + 0.3 + self.step_in_s

    @property
    def takeaway_s(self) -> float:
        """Start of the stroke on the clip's clock; nan when there is none."""
        if self.model is None:
            return float("nan")
        return self._rehearsed_s + self._waggled_s + self.still_before_s

    @property
    def contact_s(self) -> float:
        """Contact on the clip's clock (where the head passes the ball's place, without one)."""
        return self.takeaway_s + self.model.impact_time_s if self.model is not None else float("nan")

    @property
    def length_s(self) -> float:
        """How long the clip lasts."""
        if self.model is None:
            return self.still_length_s
        return self.takeaway_s + self.model.finish_time_s + self.still_after_s

    def along(self, time_s: FloatArray) -> FloatArray:
        """The head along the line at times (...): zero at contact."""
        if self.model is None:
            return np.full_like(time_s, -0.004)
        flat = time_s.ravel()
        out = self.model.position_m(flat - self.takeaway_s)
        if self.waggle_m:
            s = np.clip((flat - self._rehearsed_s) / self._waggled_s, 0.0, 1.0)
            out -= self.waggle_m * 0.5 * (1 - np.cos(2 * np.pi * self.waggle_cycles * s))
        if self.rehearsal is not None:
            before = self.rehearsal.position_m(flat - 0.5)
            step = self._step(flat)
            behind = before + _eased(step / 0.6) * (-0.08 - before)
            stepped = behind + _eased((step - 0.6) / 0.4) * (out - behind)
            out = np.where(flat < self._rehearsed_s, stepped, out)
        return out.reshape(time_s.shape)

    def aside(self, time_s: FloatArray) -> FloatArray:
        """How far the head stands off its path towards the player, at times (...)."""
        if self.rehearsal is None:
            return np.zeros_like(time_s)
        return self.path.side * self.aside_m * (1 - _eased((self._step(time_s) - 0.4) / 0.35))

    def _step(self, time_s: FloatArray) -> FloatArray:
        """Share of the step from the rehearsal to the address: back behind the ball, out, and up to it."""
        return np.asarray((time_s - self._rehearsed_s) / self.step_in_s + 1.0)

    def head(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Face centre at the sole (..., 3) and rotation (..., 3, 3) at times (...)."""
        origin, rotation = self.path.place(self.along(time_s))
        origin[..., 1] += self.aside(time_s)
        return origin, rotation

    def ball_at(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Ball centre (..., 3) and rotation (..., 3, 3) at times (...)."""
        centre = np.zeros((*time_s.shape, 3))
        centre[..., 2] = BALL_RADIUS_M
        if self.ball is None or self.model is None:
            return centre, np.broadcast_to(np.eye(3), (*time_s.shape, 3, 3)).copy()
        distance, height, angle = self.ball.at(time_s - self.contact_s)
        c, s = np.cos(self.ball.direction_rad), np.sin(self.ball.direction_rad)
        centre += np.stack([distance * c, distance * s, height], axis=-1)
        # Top of the ball goes forward: the turn is about z × direction.
        return centre, rotations(angle[..., None] * np.array([-s, c, 0.0]))


def _eased(share: FloatArray) -> FloatArray:
    """Minimum jerk from 0 to 1."""
    u = np.clip(share, 0.0, 1.0)
    return np.asarray(u**3 * (10 - 15 * u + 6 * u**2))
