"""A putt and where it finished: what cannot be is refused, what is not known is nan."""

from __future__ import annotations

import math

import pytest

from pacewright.core.errors import SettingsError
from pacewright.core.measure import Measure
from pacewright.core.outcome import Outcome, Putt


def test_a_holed_putt_without_its_pace_is_censored() -> None:
    assert Outcome(holed=True).is_censored
    assert not Outcome(3.4, holed=True).is_censored


def test_a_putt_that_was_not_holed_has_a_place() -> None:
    with pytest.raises(SettingsError, match="needs the place"):
        Outcome()


@pytest.mark.parametrize("asked_m", [0.0, -1.0, math.nan, math.inf])
def test_the_length_asked_is_above_zero(asked_m: float) -> None:
    with pytest.raises(SettingsError, match="makes no sense"):
        Putt(asked_m, Outcome(3.0))


def test_measures_that_were_not_taken_are_nan() -> None:
    putt = Putt(3.0, Outcome(3.0), measures={"downswing_time_s": Measure(0.3, 0.003)})
    assert (putt.value("downswing_time_s"), putt.sd("downswing_time_s")) == (0.3, 0.003)
    assert math.isnan(putt.value("ball_speed_m_s"))
    assert math.isnan(putt.sd("ball_speed_m_s"))
