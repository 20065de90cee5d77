"""Many putts at once are the same as each alone."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pacewright.ball.hole import FreeFallCapture, at_hole
from pacewright.ball.many import roll_many
from pacewright.ball.path import path_of, roll_out
from pacewright.core.errors import SettingsError, SimulationError
from pacewright.core.green import Green
from pacewright.core.launch import Launch
from pacewright.core.units import FOOT_M
from tests.ball.greens import LEVEL

RNG = np.random.default_rng(7)
COUNT = 60
SPEED = RNG.uniform(0.5, 4.0, COUNT)
DIRECTION = RNG.normal(0.0, 0.05, COUNT)
SPIN = RNG.uniform(-1.0, 1.5, COUNT)
GREENS = [Green(s, a, c) for s, a, c in RNG.uniform((2.0, -0.04, -0.04), (4.0, 0.04, 0.04), (COUNT, 3))]


@pytest.mark.parametrize("friction", [None, 0.3])
def test_each_putt_on_a_green_of_its_own(friction: float | None) -> None:
    hole, capture = (1.5, 0.0), FreeFallCapture()
    rests = roll_many(
        SPEED, GREENS, direction_rad=DIRECTION, roll_share=SPIN, sliding_friction=friction, hole_m=hole,
        capture=capture,
    )  # fmt: skip
    assert rests.holed is not None
    for k in range(COUNT):
        launch = Launch(SPEED[k], DIRECTION[k], SPIN[k])
        alone = roll_out(launch, GREENS[k], sliding_friction=friction)
        assert rests.x_m[k] == pytest.approx(alone.roll_out_m, rel=1e-12)
        assert rests.y_m[k] == pytest.approx(alone.across_m, rel=1e-9, abs=1e-12)
        assert rests.time_s[k] == pytest.approx(alone.time_s, rel=1e-12)
        path = path_of(launch, GREENS[k], sliding_friction=friction)
        assert rests.holed[k] == at_hole(path, 1.5, capture).holed
    assert 0 < rests.holed.sum() < COUNT


def test_more_putts_than_a_block_holds() -> None:
    speed = np.linspace(0.5, 4.0, 40_000)
    rests = roll_many(speed, LEVEL, hole_m=(3.0, 0.0))
    unit = roll_out(Launch(1.0), LEVEL)
    assert rests.x_m == pytest.approx(unit.roll_out_m * speed**2)
    assert rests.holed is not None
    first, last = np.flatnonzero(rests.holed)[[0, -1]]
    assert rests.holed[first : last + 1].all()
    assert rests.x_m[first] == pytest.approx(3.0 - 0.054, abs=1e-3)


def test_one_speed_in_many_directions() -> None:
    rests = roll_many(2.0, LEVEL, direction_rad=np.linspace(-1.0, 1.0, 11))
    assert np.hypot(rests.x_m, rests.y_m) == pytest.approx(
        np.full(11, roll_out(Launch(2.0), LEVEL).roll_out_m)
    )
    assert rests.holed is None


def test_no_putt_at_all() -> None:
    assert roll_many([], LEVEL, hole_m=(3.0, 0.0)).x_m.size == 0


def test_a_putt_that_is_none_is_named() -> None:
    for options, speed in (
        ({}, math.nan),
        ({}, 0.0),
        ({"direction_rad": 9.0}, 1.0),
        ({"roll_share": math.inf}, 1.0),
    ):
        with pytest.raises(SettingsError, match="Putt 1 of"):
            roll_many([speed, 1.0], LEVEL, **options)
    with pytest.raises(SettingsError, match="Putt 2 of 3"):
        roll_many([1.0, -1.0, 1.0], LEVEL)


def test_a_green_that_never_stops_a_ball_is_named() -> None:
    with pytest.raises(SimulationError, match="green 2 of 2"):
        roll_many([1.0, 1.0], [LEVEL, Green(10 * FOOT_M, slope_rad=-0.1)])


def test_figures_that_do_not_fit_together_are_refused() -> None:
    with pytest.raises(SettingsError, match="2 greens were given for 3 putts"):
        roll_many([1.0, 1.0, 1.0], [LEVEL, LEVEL])
    with pytest.raises(SettingsError, match="rows of figures"):
        roll_many(np.ones((2, 2)), LEVEL)
