"""Launch to rest on any smooth surface, stepped from event to event: end of skid, standstill, rest.

The ball is a point on the surface with the mechanics of a rolling sphere; its size against the surface's
curvature is left out. The load on the turf is g·n_z + vᵀ·H·v/√(1 + |∇h|²): more in a hollow, less over a
crest. The clock is dσ = dt/|slip| while the ball skids and dt/|velocity| while it rolls, so that the jump of
friction at standstill never meets the integrator. No solution is shared with the closed form of `path`: the
two check each other.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from pacewright.ball.hodograph import Motion
from pacewright.ball.path import check_launch
from pacewright.ball.plane import SPHERE, slope_text
from pacewright.ball.rolling import RollingResistance
from pacewright.ball.skid import SLIDING_FRICTION, check_friction
from pacewright.ball.surface import Contact, Surface
from pacewright.core.errors import SimulationError
from pacewright.core.green import GRAVITY_M_S2
from pacewright.core.launch import Launch
from pacewright.core.recording import FloatArray

STILL_M_S = 1e-7
"""A slip or a speed below this counts as none."""
LONGEST_ROLL_S = 120.0
_MOST_STANDSTILLS = 50
_TABLE = 400
_TOLERANCE = np.array([1e-10, 1e-10, 1e-10, 1e-12, 1e-12, 1e-12, 1e-12])
"""Absolute tolerance of a state: time, place, velocity and spin."""

Rates = Callable[[float, FloatArray], list[float]]
"""d/dσ of a state: time, place (x, y), velocity (x, y), and spin as the velocity that would roll (x, y)."""


@dataclass(frozen=True, slots=True)
class Leg:
    """A stretch between two events: its states (7, n) over σ, and a table of σ against time."""

    states: Callable[[FloatArray], FloatArray]
    sigma: FloatArray
    time_s: FloatArray

    @property
    def last(self) -> FloatArray:
        """State at its end."""
        return self.states(self.sigma[-1])


@dataclass(frozen=True, slots=True)
class SteppedPath:
    """The way of one ball over a surface, leg by leg; places and velocities are those over the map."""

    surface: Surface
    skid_time_s: float
    legs: tuple[Leg, ...]

    def at(self, progress: FloatArray | float) -> Motion:
        """State at a progress from 0 (launch) by 1 (skid ends) to 2 (rest), even in time between these."""
        progress = np.clip(np.asarray(progress, dtype=np.float64), 0.0, 2.0)
        end = self.legs[-1].time_s[-1]
        time = np.interp(progress.ravel(), [0.0, 1.0, 2.0], [0.0, self.skid_time_s, end])
        states = np.empty((7, time.size))
        which = np.searchsorted([leg.time_s[-1] for leg in self.legs[:-1]], time)
        for k, leg in enumerate(self.legs):
            if not (here := which == k).any():
                continue
            states[:, here] = leg.states(np.interp(time[here], leg.time_s, leg.sigma))
        t, x, y, v_x, v_y = (row.reshape(progress.shape) for row in states[:5])
        return Motion(t, (v_x, v_y), (x, y))

    def rest(self) -> Motion:
        """State at rest."""
        return self.at(2.0)

    def rise_rad(self, motion: Motion) -> FloatArray:
        """Rise of the surface along the travel of a state; 0 for a ball at rest."""
        columns = (np.ravel(a) for a in (*motion.displacement_m, *motion.velocity_m_s))
        rises = [
            _rise(Contact.at(self.surface, x, y), v_x, v_y) for x, y, v_x, v_y in zip(*columns, strict=True)
        ]
        return np.array(rises).reshape(np.shape(motion.time_s))


def step_putt(
    launch: Launch,
    surface: Surface,
    resistance: RollingResistance,
    *,
    sliding_friction: float | None = SLIDING_FRICTION,
) -> SteppedPath:
    """Roll a ball from the origin of a surface to rest; ``sliding_friction`` None rolls from the start.

    Raises SettingsError for an impossible launch, SimulationError when the ball does not come to rest within
    two minutes or leaves the ground.
    """
    check_launch(launch)
    state = _launched(launch, surface, rolls=sliding_friction is None)
    legs: list[Leg] = []
    if sliding_friction is not None:
        check_friction(sliding_friction)
        if _slip(Contact.at(surface, 0.0, 0.0), state) > STILL_M_S:
            legs.append(_leg(state, surface, resistance, _skidding(surface, sliding_friction), _slip))
            state = legs[-1].last
    skid_time = float(state[0])
    # What is left of the slip goes as an impulse at the contact would take it.
    state = _with_velocity(state, *(state[3:5] - (1.0 - SPHERE) * (state[3:5] - state[5:7])))
    for _ in range(_MOST_STANDSTILLS):
        legs.append(_leg(state, surface, resistance, _rolling(surface, resistance), _speed))
        state = legs[-1].last
        if _holds(surface, state, resistance):
            return SteppedPath(surface, skid_time, tuple(legs))
        state = _set_off_downhill(surface, state)
    raise SimulationError("The ball rocks in a hollow without end; give more rolling resistance.")


def _launched(launch: Launch, surface: Surface, *, rolls: bool) -> FloatArray:
    """State at launch. The direction is measured on the surface, against the line above the target line."""
    contact = Contact.at(surface, 0.0, 0.0)
    n_x, n_y, n_z = contact.normal
    size = math.hypot(1.0, contact.slope_x)
    along = np.array([1.0, 0.0, contact.slope_x]) / size
    across = np.cross([n_x, n_y, n_z], along)
    velocity = launch.speed_m_s * (
        math.cos(launch.direction_rad) * along + math.sin(launch.direction_rad) * across
    )
    spin = velocity * (1.0 if rolls else launch.roll_share)
    return np.array([0.0, 0.0, 0.0, velocity[0], velocity[1], spin[0], spin[1]])


def _leg(
    start: FloatArray,
    surface: Surface,
    resistance: RollingResistance,
    rates: Rates,
    size: Callable[[Contact, FloatArray], float],
) -> Leg:
    """Integrate until ``size`` (of the slip, of the velocity) has fallen to nothing."""
    from scipy.integrate import solve_ivp

    def still(_: float, state: FloatArray) -> float:
        return size(_under(surface, state), state) - STILL_M_S

    def late(_: float, state: FloatArray) -> float:
        return float(state[0]) - LONGEST_ROLL_S

    still.terminal, still.direction, late.terminal = True, -1.0, True  # type: ignore[attr-defined]
    events = (still, late)
    done: Any = solve_ivp(
        rates, (0.0, 1e5), start, "DOP853", rtol=1e-10, atol=_TOLERANCE, dense_output=True, events=events
    )
    if done.status != 1 or done.t_events[0].size == 0:
        raise _never_still(surface, done.y[:, -1], resistance.coefficient(0.0))
    sigma = done.t[-1] * np.linspace(0.0, 1.0, _TABLE) ** 2
    return Leg(done.sol, sigma, np.maximum.accumulate(done.sol(sigma)[0]))


def _never_still(surface: Surface, state: FloatArray, limit: float) -> SimulationError:
    contact = _under(surface, state)
    steep = slope_text(math.hypot(contact.slope_x, contact.slope_y))
    return SimulationError(
        f"The ball is not at rest after {state[0]:.3g} s, {math.hypot(state[1], state[2]):.3g} m away. The "
        f"ground there falls {steep}, and this turf stops a ball below {slope_text(limit)} only. "
        "Give a flatter surface or a slower green."
    )


def _skidding(surface: Surface, sliding_friction: float) -> Rates:
    """dσ = dt/|slip|."""

    def rates(_: float, state: FloatArray) -> list[float]:
        contact, (v_x, v_y, w_x, w_y) = _under(surface, state), state[3:7].tolist()
        n_x, n_y, n_z = contact.normal
        bend_v, bend_w = contact.bend(v_x, v_y, v_x, v_y), contact.bend(v_x, v_y, w_x, w_y)
        load = _load(n_z, bend_v)
        slip_x, slip_y = v_x - w_x, v_y - w_y
        slip = contact.size(slip_x, slip_y)
        rub = sliding_friction * load
        normal = GRAVITY_M_S2 * n_z + bend_v
        return [
            slip,
            slip * v_x,
            slip * v_y,
            slip * normal * n_x - rub * slip_x,
            slip * normal * n_y - rub * slip_y,
            slip * bend_w * n_x + 2.5 * rub * slip_x,
            slip * bend_w * n_y + 2.5 * rub * slip_y,
        ]

    return rates


def _rolling(surface: Surface, resistance: RollingResistance) -> Rates:
    """dσ = dt/|velocity|; the spin is kept at pure roll."""

    def rates(_: float, state: FloatArray) -> list[float]:
        contact, (v_x, v_y) = _under(surface, state), state[3:5].tolist()
        n_x, n_y, n_z = contact.normal
        bend = contact.bend(v_x, v_y, v_x, v_y)
        speed = contact.size(v_x, v_y)
        drag = SPHERE * resistance.coefficient(speed) * _load(n_z, bend)
        normal = SPHERE * GRAVITY_M_S2 * n_z + bend
        a_x = speed * normal * n_x - drag * v_x
        a_y = speed * normal * n_y - drag * v_y
        return [speed, speed * v_x, speed * v_y, a_x, a_y, a_x, a_y]

    return rates


def _load(normal_z: float, bend_m_s2: float) -> float:
    """Load on the turf by mass."""
    load = GRAVITY_M_S2 * normal_z + bend_m_s2
    if load <= 0.0:
        raise SimulationError(
            "The ball leaves the ground over a crest; give a smoother surface or less speed."
        )
    return load


def _with_velocity(state: FloatArray, v_x: float, v_y: float) -> FloatArray:
    """The state with that velocity and the spin of pure roll."""
    return np.array([*state[:3], v_x, v_y, v_x, v_y])


def _set_off_downhill(surface: Surface, state: FloatArray) -> FloatArray:
    """A ball at standstill that the turf does not hold starts straight downhill."""
    contact = _under(surface, state)
    start = -2.0 * STILL_M_S / math.hypot(contact.slope_x, contact.slope_y)
    return _with_velocity(state, start * contact.slope_x, start * contact.slope_y)


def _holds(surface: Surface, state: FloatArray, resistance: RollingResistance) -> bool:
    """Whether the turf holds a ball at standstill there."""
    contact = _under(surface, state)
    return math.hypot(contact.slope_x, contact.slope_y) < resistance.coefficient(0.0)


def _under(surface: Surface, state: FloatArray) -> Contact:
    return Contact.at(surface, float(state[1]), float(state[2]))


def _slip(contact: Contact, state: FloatArray) -> float:
    return contact.size(float(state[3] - state[5]), float(state[4] - state[6]))


def _speed(contact: Contact, state: FloatArray) -> float:
    return contact.size(float(state[3]), float(state[4]))


def _rise(contact: Contact, v_x: float, v_y: float) -> float:
    size = contact.size(v_x, v_y)
    return math.asin((contact.slope_x * v_x + contact.slope_y * v_y) / size) if size > 0.0 else 0.0
