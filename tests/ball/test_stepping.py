"""Stepping on any surface: it agrees with the closed form on planes, and obeys the laws elsewhere."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from scipy.integrate import solve_ivp

from pacewright.ball.hole import HolmesCapture, arrival, is_holed
from pacewright.ball.path import path_of
from pacewright.ball.rolling import ConstantResistance, constant_resistance
from pacewright.ball.stepping import SteppedPath, step_putt
from pacewright.ball.surface import Contact, HeightField, TiltedPlane
from pacewright.core.errors import SettingsError, SimulationError
from pacewright.core.green import Green
from pacewright.core.launch import Launch
from tests.ball.greens import LEVEL, frictions, greens, launches

TURF = constant_resistance(LEVEL)
FLAT = TiltedPlane(0.0, 0.0)
BUMPY = HeightField(lambda x, y: 0.03 * math.sin(2.0 * x) + 0.02 * math.cos(3.0 * y + x))


def _over_the_map(green: Green, place: tuple[float, float]) -> tuple[float, float]:
    """A place measured on the plane of a green, as seen on the map."""
    normal = np.array([-math.tan(green.slope_rad), math.tan(green.cross_slope_rad), 1.0])
    x = np.array([math.cos(green.slope_rad), 0.0, math.sin(green.slope_rad)])
    y = np.cross(normal / np.linalg.norm(normal), x)
    seen = place[0] * x + place[1] * y
    return float(seen[0]), float(seen[1])


@settings(max_examples=20)
@given(launches(), greens(), frictions())
def test_closed_form_and_stepping_agree_on_a_plane(
    launch: Launch, green: Green, friction: float | None
) -> None:
    closed = path_of(launch, green, sliding_friction=friction)
    stepped = step_putt(launch, TiltedPlane.of(green), constant_resistance(green), sliding_friction=friction)
    rest, other = closed.rest(), stepped.rest()
    seen = _over_the_map(green, (float(rest.displacement_m[0]), float(rest.displacement_m[1])))
    # Near the steepest slope that stops a ball, its last millimetres take long.
    assert [float(d) for d in other.displacement_m] == pytest.approx(seen, abs=1e-5)
    assert stepped.skid_time_s == pytest.approx(float(closed.skid_end.time_s), abs=1e-6)
    assert float(other.time_s) == pytest.approx(float(rest.time_s), abs=2e-5)


def _energies(path: SteppedPath) -> np.ndarray:
    """Energy by mass along the way, from the states of every leg."""
    found = []
    for leg in path.legs:
        for _, x, y, v_x, v_y, w_x, w_y in leg.states(leg.sigma).T:
            contact = Contact.at(path.surface, x, y)
            moving = 0.5 * contact.size(v_x, v_y) ** 2 + 0.2 * contact.size(w_x, w_y) ** 2
            found.append(moving + 9.81 * path.surface.height_m(x, y))
    return np.array(found)


@pytest.mark.parametrize("launch", [Launch(1.5), Launch(3.0, 0.4, -0.5), Launch(2.0, -0.3, 1.5)])
def test_energy_never_rises_on_bumpy_ground(launch: Launch) -> None:
    assert np.all(np.diff(_energies(step_putt(launch, BUMPY, TURF))) <= 1e-10)


def test_a_dip_along_the_way_as_energy_says() -> None:
    """Straight over a wave z(x): d(v²)/ds = −(10/7)·(g·sin θ + ρ·(g·cos θ + κ·v²)), integrated over x."""

    def wave(x: float, _: float) -> float:
        return 0.02 * math.sin(1.5 * x)

    def change(x: float, square: np.ndarray) -> np.ndarray:
        slope, second = 0.03 * math.cos(1.5 * x), -0.045 * math.sin(1.5 * x)
        stretch = math.sqrt(1 + slope**2)
        load = 9.81 / stretch + second / stretch**3 * square
        return -10 / 7 * (9.81 * slope / stretch + TURF.resistance * load) * stretch

    def stops(_: float, square: np.ndarray) -> float:
        return float(square[0]) - 1e-8

    stops.terminal = True  # type: ignore[attr-defined]
    apart = solve_ivp(change, (0.0, 20.0), [2.2**2], events=stops, rtol=1e-10, atol=1e-12)
    path = step_putt(Launch(2.2), HeightField(wave), TURF, sliding_friction=None)
    assert float(path.rest().displacement_m[0]) == pytest.approx(apart.t[-1], abs=1e-5)
    assert float(path.rest().displacement_m[1]) == pytest.approx(0.0, abs=1e-12)


@dataclass(frozen=True)
class _GrowingResistance:
    """ρ that grows with speed: ρ₀ + k·v."""

    at_rest: float
    growth: float

    def coefficient(self, speed_m_s: float) -> float:
        return self.at_rest + self.growth * speed_m_s


def test_resistance_may_depend_on_speed() -> None:
    """dv/dt = −c·(ρ₀ + k·v), c = 5g/7: T = ln(1 + k·v₀/ρ₀)/(c·k), length (v₀ − c·ρ₀·T)/(c·k)."""
    law, c, speed = _GrowingResistance(0.06, 0.02), 5 * 9.81 / 7, 2.0
    time = math.log(1 + law.growth * speed / law.at_rest) / (c * law.growth)
    rest = step_putt(Launch(speed), FLAT, law, sliding_friction=None).rest()
    assert float(rest.time_s) == pytest.approx(time, abs=1e-5)
    length = (speed - c * law.at_rest * time) / (c * law.growth)
    assert float(rest.displacement_m[0]) == pytest.approx(length, abs=1e-6)


def test_a_ball_that_turns_back_comes_to_rest_where_the_turf_holds_it() -> None:
    bowl = HeightField(lambda x, _: 0.1 * x * x, slope=lambda x, _: (0.2 * x, 0.0))
    path = step_putt(Launch(1.2), bowl, TURF)
    rest = float(path.rest().displacement_m[0])
    assert len(path.legs) == 3  # skid, up the far side, back
    turned = path.legs[1].last[1]
    assert turned > 0.4
    assert 0.0 < rest < turned
    assert 0.2 * abs(rest) < TURF.resistance


def test_left_and_right_are_mirror_images() -> None:
    mirrored = HeightField(lambda x, y: BUMPY.height_m(x, -y))
    one = step_putt(Launch(2.0, 0.2), BUMPY, TURF).rest().displacement_m
    two = step_putt(Launch(2.0, -0.2), mirrored, TURF).rest().displacement_m
    assert [float(two[0]), float(two[1])] == pytest.approx([float(one[0]), -float(one[1])], abs=1e-6)


@pytest.mark.parametrize("launch", [Launch(2.6), Launch(2.6, 0.01), Launch(4.0), Launch(2.6, 0.1)])
def test_stepped_balls_come_to_the_hole_like_those_in_closed_form(launch: Launch) -> None:
    stepped = arrival(step_putt(launch, FLAT, TURF), (3.0, 0.0))
    closed = arrival(path_of(launch, LEVEL), (3.0, 0.0))
    assert bool(stepped.reaches) == bool(closed.reaches)
    assert is_holed(stepped, HolmesCapture()) == is_holed(closed, HolmesCapture())
    if closed.reaches:
        assert float(stepped.offset_m) == pytest.approx(float(closed.offset_m), abs=1e-6)
        assert float(stepped.speed_m_s) == pytest.approx(float(closed.speed_m_s), abs=1e-6)
        assert float(stepped.time_s) == pytest.approx(float(closed.time_s), abs=1e-6)


def test_the_rise_at_the_hole_is_that_of_the_ground() -> None:
    slope = HeightField(lambda x, _: 0.05 * x)
    arrived = arrival(step_putt(Launch(3.0), slope, TURF), (1.5, 0.0))
    assert float(arrived.rise_rad) == pytest.approx(math.atan(0.05), rel=1e-6)


def test_a_gradient_by_differences_is_the_gradient() -> None:
    x, y = 0.7, -0.4
    exact = 0.06 * math.cos(2 * x) - 0.02 * math.sin(3 * y + x), -0.06 * math.sin(3 * y + x)
    assert BUMPY.gradient(x, y) == pytest.approx(exact, abs=1e-9)


def test_a_ball_that_never_stops_is_told_with_slope_and_limit() -> None:
    with pytest.raises(SimulationError, match=r"falls 10\.00 % \(5\.71°\).*below 7\.84 % \(4\.48°\) only"):
        step_putt(Launch(1.0), TiltedPlane(-0.1, 0.0), TURF)
    with pytest.raises(SimulationError, match="falls 10"):
        step_putt(Launch(1.0), TiltedPlane(0.1, 0.0), TURF, sliding_friction=None)  # up, then back


def test_a_ball_that_leaves_the_ground_is_told() -> None:
    with pytest.raises(SimulationError, match="leaves the ground"):
        step_putt(Launch(5.0), HeightField(lambda x, _: -0.5 * x * x), TURF)


def test_what_is_no_putt_is_refused() -> None:
    with pytest.raises(SettingsError, match="launch speed"):
        step_putt(Launch(0.0), FLAT, TURF)
    with pytest.raises(SettingsError, match="sliding friction"):
        step_putt(Launch(1.0), FLAT, ConstantResistance(0.08), sliding_friction=0.0)
