"""Contact: conservation laws, and what a strike off the centre does."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.ball.impact import (
    HEAD_INERTIA_KG_M2,
    ball_speed_ratio,
    collide,
    effective_head_mass_kg,
    head_speed_kept,
    roll_out_share,
)
from pacewright.core.equipment import BALL_MASS_KG, Putter
from pacewright.core.errors import SettingsError

putters = st.builds(Putter, st.floats(0.2, 0.6), st.floats(0.0, 1.0))
offsets = st.floats(-0.05, 0.05)
speeds = st.floats(0.1, 6.0)


@given(speeds, putters, offsets)
def test_momentum_and_angular_momentum_are_conserved(speed: float, putter: Putter, offset: float) -> None:
    after = collide(speed, putter, offset)
    before = putter.head_mass_kg * speed
    momentum = putter.head_mass_kg * after.head_speed_after_m_s + BALL_MASS_KG * after.ball_speed_m_s
    assert momentum == pytest.approx(before, rel=1e-9)
    # About the head's centre of mass: what the ball carries away, the head gets as turn.
    turning = HEAD_INERTIA_KG_M2 * after.head_turn_rad_s
    assert turning == pytest.approx(offset * BALL_MASS_KG * after.ball_speed_m_s, rel=1e-9, abs=1e-15)


@given(speeds, putters, offsets)
def test_energy_never_rises_and_restitution_is_that_of_the_faces(
    speed: float, putter: Putter, offset: float
) -> None:
    after = collide(speed, putter, offset)
    energy = (
        putter.head_mass_kg * after.head_speed_after_m_s**2
        + BALL_MASS_KG * after.ball_speed_m_s**2
        + HEAD_INERTIA_KG_M2 * after.head_turn_rad_s**2
    )
    before = putter.head_mass_kg * speed**2
    assert energy <= before * (1 + 1e-12)
    if putter.restitution == 1.0:
        assert energy == pytest.approx(before, rel=1e-12)
    face_after = after.head_speed_after_m_s - after.head_turn_rad_s * offset
    assert after.ball_speed_m_s - face_after == pytest.approx(putter.restitution * speed, rel=1e-9, abs=1e-12)


@given(speeds, putters)
def test_a_strike_in_the_centre_is_the_one_dimensional_impact(speed: float, putter: Putter) -> None:
    after = collide(speed, putter)
    assert after.head_turn_rad_s == 0.0
    assert after.ball_speed_m_s == pytest.approx(speed * ball_speed_ratio(putter))
    assert after.head_speed_after_m_s == pytest.approx(speed * head_speed_kept(putter), abs=1e-12)


@given(putters, st.floats(0.001, 0.05))
def test_heel_and_toe_cost_the_same_and_further_costs_more(putter: Putter, offset: float) -> None:
    assert roll_out_share(putter, offset) == roll_out_share(putter, -offset)
    assert roll_out_share(putter, 1.1 * offset) < roll_out_share(putter, offset) < 1.0
    assert effective_head_mass_kg(putter, offset) < putter.head_mass_kg


def test_more_inertia_forgives_more() -> None:
    shares = [roll_out_share(Putter(), 0.02, head_inertia_kg_m2=i) for i in (3.5e-4, 5e-4, 6e-4, 1.0)]
    assert shares == sorted(shares)
    assert shares[-1] == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize(
    ("putter", "offset", "inertia", "told"),
    [
        (Putter(0.01), 0.0, 5e-4, "head mass of 10 g"),
        (Putter(math.nan), 0.0, 5e-4, "head mass"),
        (Putter(0.35, 1.2), 0.0, 5e-4, "restitution of 1.2"),
        (Putter(0.35, -0.1), 0.0, 5e-4, "restitution"),
        (Putter(), 0.2, 5e-4, "200 mm off the centre"),
        (Putter(), 0.0, 0.0, "moment of inertia"),
    ],
)
def test_what_is_no_putter_is_refused(putter: Putter, offset: float, inertia: float, told: str) -> None:
    with pytest.raises(SettingsError, match=told):
        ball_speed_ratio(putter, offset, head_inertia_kg_m2=inertia)


@pytest.mark.parametrize("speed", [0.0, -1.0, math.nan, math.inf])
def test_a_head_that_does_not_move_forward_is_refused(speed: float) -> None:
    with pytest.raises(SettingsError, match="head speed"):
        collide(speed, Putter())
