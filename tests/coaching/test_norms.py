"""Norms: the data file holds together, names its sources, and agrees with the laws it is derived from."""

from __future__ import annotations

import math

import pytest

from pacewright.coaching.norms import norm, norms, parse_norms
from pacewright.coaching.station import law_constant
from pacewright.core.errors import SettingsError
from pacewright.core.registry import MEASURES

GOOD = '[[norm]]\nid = "x"\nunit = ""\nvalue = 1.0\nsource = "here"\nstatus = "derived"\n'


def test_every_norm_has_a_source_and_a_known_measure() -> None:
    for one in norms().values():
        assert one.source.endswith(".")
        assert not one.measure or one.measure in MEASURES


def test_the_guide_to_the_time_ratio() -> None:
    # About 2:1, window 1.8 to 2.4, a poor example 2.8 with a backswing of 1.06 s: common practice, no source.
    ratio = norm("time-ratio")
    assert (ratio.value, ratio.low, ratio.high, ratio.act_high) == (2.0, 1.8, 2.4, 2.8)
    assert norm("backswing-time").act_high == 1.06
    assert ratio.status == norm("backswing-time").status == "common practice"


def test_spread_of_contact_speed_follows_from_the_published_spreads() -> None:
    # Karlsen and Nilsson 2008 (read): 6.8 % repeated, 2.5 % the green; speed carries half (derived).
    assert norm("contact-speed-spread").value == pytest.approx(math.sqrt(6.8**2 - 2.5**2) / 200, abs=5e-4)


def test_limits_of_the_swing_constant_follow_from_the_movement_law() -> None:
    constant = norm("swing-constant")
    assert constant.value == pytest.approx(math.pi / 2, abs=1e-4)
    assert (constant.low, constant.high) == pytest.approx((law_constant(0.5), law_constant(2.0)), abs=2e-3)


def test_limits_of_the_through_marker_follow_from_the_band_of_acceleration() -> None:
    # In the movement law the index is θ·cot θ with cos θ = (F−B)/(F+B).
    for ratio in (norm("through-marker").low, norm("through-marker").high):
        angle = math.acos((ratio - 1) / (ratio + 1))
        assert abs(angle / math.tan(angle)) == pytest.approx(norm("acceleration-index").high, abs=0.07)


def test_limits_of_the_beat_are_those_of_the_backswing() -> None:
    beat, time = norm("beat"), norm("backswing-time")
    assert (60 / beat.high, 60 / beat.low) == pytest.approx((time.low, time.high), abs=0.01)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[[norm]", "cannot be read"),
        (GOOD.replace("derived", "hearsay"), "'hearsay' is not a status"),
        (GOOD + 'measure = "tempo"\n', "'tempo' is not a measure"),
        (GOOD + 'measure = "time_ratio"\nlow = 2.0\n', "not in order"),
        (GOOD + 'measure = "backswing_time_s"\n', "unit is not that of backswing_time_s"),
        (GOOD.replace("value = 1.0\n", ""), "missing or not in order"),
        (GOOD + "colour = 1\n", "cannot be read"),
        (GOOD + GOOD, "uses an id twice"),
    ],
)
def test_a_file_that_does_not_hold_together_is_refused(text: str, says: str) -> None:
    with pytest.raises(SettingsError, match=says):
        parse_norms(text)
