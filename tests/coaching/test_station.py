"""The movement law against a moving head, and the station that stands on it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.coaching.norms import norm
from pacewright.coaching.station import PuttDemand, law_constant, passing, plan_station
from pacewright.coaching.swing import Swing, own_swing, textbook_swing
from pacewright.core.errors import SettingsError
from pacewright.core.station import PuttStation, Station
from pacewright.simulate.habits import Habits, strokes_of
from pacewright.simulate.laws import LawStroke

TEXTBOOK = textbook_swing(ball_speed_ratio=1.591, head_speed_kept=0.791)
FROM_STROKES = {"ball_speed_ratio": 1.591, "head_speed_kept": 0.791}

markers = st.floats(0.05, 0.6)
beats = st.floats(40.0, 160.0)
speeds = st.floats(0.8, 6.0)


def _demand(speed: float, length: float = 3.0, share: float = 0.05) -> PuttDemand:
    return PuttDemand(length, speed, speed * (1 - share), speed * (1 + share), 0.1 * length)


def _only(station: Station) -> PuttStation:
    (one,) = station.stations
    return one


@given(back=markers, through=markers, beat_s=st.floats(0.4, 1.2))
def test_the_law_is_that_of_a_half_cosine_followed_step_by_step(
    back: float, through: float, beat_s: float
) -> None:
    time = np.linspace(0.0, beat_s, 20_001)
    place = (through - back) / 2 - (through + back) / 2 * np.cos(np.pi * time / beat_s)
    at = int(np.searchsorted(place, 0.0))
    step = time[1]
    law = passing(back, through, beat_s)
    assert law.time_s == pytest.approx(time[at], abs=2 * step)
    middle = place[at - 10 : at + 11 : 10]
    assert law.speed_m_s == pytest.approx((middle[2] - middle[0]) / (20 * step), rel=2e-3)
    curvature = (middle[2] - 2 * middle[1] + middle[0]) / (10 * step) ** 2
    # Differences of places: rounding leaves about 0.001 m/s².
    assert law.acceleration_m_s2 == pytest.approx(curvature, rel=1e-2, abs=0.02)


@given(back=markers, through=markers)
def test_the_law_agrees_with_the_stroke_that_is_simulated_apart(back: float, through: float) -> None:
    stroke = LawStroke("half cosine", period_s=0.7, backswing_length_m=back, through_m=through).truth()
    law = passing(back, through, 0.7)
    assert law.time_s == pytest.approx(stroke["downswing_time_s"], abs=1e-9)
    assert law.speed_m_s == pytest.approx(stroke["impact_speed_m_s"], rel=1e-9)
    assert law.acceleration_m_s2 == pytest.approx(stroke["impact_acceleration_m_s2"], abs=1e-9)


def test_equal_markers_are_the_textbook() -> None:
    # Derived: contact half a beat after the top, no acceleration there, constant π/2.
    law = passing(0.3, 0.3, 0.6)
    assert law.time_s == pytest.approx(0.3)
    assert law.acceleration_m_s2 == pytest.approx(0.0, abs=1e-12)
    assert law_constant(1.0) == pytest.approx(math.pi / 2)


def test_constant_of_the_driven_pendulum() -> None:
    # x = A(2 sin ωt − sin 2ωt): ratio exactly 2, no acceleration at contact, constant 1.6123 (derived).
    truth = LawStroke("driven pendulum", backswing_time_s=0.64, backswing_length_m=0.2).truth()
    constant = truth["impact_speed_m_s"] * truth["downswing_time_s"] / truth["backswing_length_m"]
    assert constant == pytest.approx(1.6123, abs=1e-4)
    assert truth["time_ratio"] == pytest.approx(2.0)


@given(speed=speeds, beat=beats)
def test_textbook_station(speed: float, beat: float) -> None:
    one = _only(plan_station([_demand(speed)], beats_per_minute=beat, swing=TEXTBOOK))
    assert one.through_marker_m == one.back_marker_m
    assert one.time_ratio == pytest.approx(2.0)
    assert one.impact_acceleration_m_s2 == 0.0
    law = passing(one.back_marker_m, one.through_marker_m, one.beat_interval_s)
    assert one.head_speed_m_s == pytest.approx(law.speed_m_s)
    assert one.launch_speed_m_s == pytest.approx(1.591 * one.head_speed_m_s)
    assert one.head_rests_m == pytest.approx(0.791 * one.through_marker_m)


@given(speed=speeds, beat=beats, share=st.floats(0.01, 0.2), ratio=st.floats(0.5, 2.0))
def test_the_band_holds_the_marker_and_its_ends_launch_the_speeds_of_the_demand(
    speed: float, beat: float, share: float, ratio: float
) -> None:
    swing = _with_through(ratio)
    demand = _demand(speed, share=share)
    one = _only(plan_station([demand], beats_per_minute=beat, swing=swing))
    low, high = one.back_marker_band_m
    assert 0.0 < low < one.back_marker_m < high < math.inf
    for end, launch in ((low, demand.launch_speed_low_m_s), (high, demand.launch_speed_high_m_s)):
        head_speed = swing.constant.value * end / one.downswing_time_s
        assert head_speed * swing.ball_speed_ratio.value == pytest.approx(launch)


@given(speed=speeds, faster=st.floats(1.01, 2.0), beat=beats, quicker=st.floats(1.01, 2.0))
def test_more_speed_asks_for_longer_markers_and_a_quicker_beat_for_shorter(
    speed: float, faster: float, beat: float, quicker: float
) -> None:
    station = plan_station([_demand(speed), _demand(speed * faster)], beats_per_minute=beat, swing=TEXTBOOK)
    soft, hard = station.stations
    quick = _only(plan_station([_demand(speed)], beats_per_minute=beat * quicker, swing=TEXTBOOK))
    assert hard.back_marker_m > soft.back_marker_m > quick.back_marker_m > 0.0


@given(ratio=st.floats(0.67, 1.5))
def test_a_longer_through_marker_asks_for_acceleration(ratio: float) -> None:
    one = _only(plan_station([_demand(2.0)], beats_per_minute=90, swing=_with_through(ratio)))
    assert one.through_marker_m == pytest.approx(ratio * one.back_marker_m)
    assert math.copysign(1, one.impact_acceleration_m_s2) == math.copysign(1, ratio - 1 + 1e-12)
    law = passing(one.back_marker_m, one.through_marker_m, one.beat_interval_s)
    assert one.impact_acceleration_m_s2 == pytest.approx(law.acceleration_m_s2)
    assert one.time_ratio == pytest.approx(one.beat_interval_s / law.time_s)


def test_a_follow_through_far_from_the_law_is_not_taught() -> None:
    station = plan_station([_demand(2.0)], beats_per_minute=90, swing=_with_through(2.2))
    one = _only(station)
    assert one.through_marker_m == pytest.approx(norm("through-marker").high * one.back_marker_m)
    assert "through-marker-held" in [warning.code for warning in station.warnings]


def test_a_putt_that_is_too_long_for_the_beat_names_the_beat_that_makes_it() -> None:
    demand = _demand(5.0, length=15.0)
    one = _only(plan_station([demand], beats_per_minute=90, swing=TEXTBOOK))
    (warning,) = one.warnings
    assert warning.code == "backswing-too-long"
    named = float(warning.text.split("Use ")[1].split()[0])
    better = _only(plan_station([demand], beats_per_minute=named, swing=TEXTBOOK))
    assert better.warnings == ()
    assert better.back_marker_m <= 0.60
    worse = _only(plan_station([demand], beats_per_minute=named - 1, swing=TEXTBOOK))
    assert worse.warnings != ()


def test_a_putt_that_no_beat_makes_says_so() -> None:
    (long,) = _only(plan_station([_demand(12.0)], beats_per_minute=90, swing=TEXTBOOK)).warnings
    assert "quicker than a stroke can keep: practise a shorter putt" in long.text
    (short,) = _only(plan_station([_demand(0.06)], beats_per_minute=90, swing=TEXTBOOK)).warnings
    assert short.code == "backswing-too-short"
    assert "slower than a stroke can keep: practise a longer putt" in short.text


def test_a_short_tap_names_a_slower_beat() -> None:
    demand = _demand(0.2)
    (warning,) = _only(plan_station([demand], beats_per_minute=100, swing=TEXTBOOK)).warnings
    named = float(warning.text.split("Use ")[1].split()[0])
    assert _only(plan_station([demand], beats_per_minute=named, swing=TEXTBOOK)).warnings == ()


def test_the_textbook_says_how_unsure_it_is_and_an_unusual_beat_is_remarked() -> None:
    usual = plan_station([_demand(2.0)], beats_per_minute=90, swing=TEXTBOOK)
    assert [warning.code for warning in usual.warnings] == ["markers-unsure"]
    assert "textbook's" in usual.warnings[0].text
    slow = plan_station([_demand(2.0)], beats_per_minute=50, swing=TEXTBOOK)
    assert "beat-unusual" in [warning.code for warning in slow.warnings]


def test_a_constant_far_from_the_law_is_used_and_remarked() -> None:
    strokes = strokes_of(Habits(acceleration_index=0.65), np.random.default_rng(8), [3.0] * 20)
    swing = own_swing(strokes, **FROM_STROKES)
    station = plan_station([_demand(2.0)], beats_per_minute=90, swing=swing)
    assert station.swing_constant > norm("swing-constant").high
    (warning,) = [w for w in station.warnings if w.code == "constant-unusual"]
    assert "move the back marker out as the stroke gets steadier" in warning.text


@pytest.mark.parametrize("beat", [0.0, -90.0, 1000.0, math.nan])
def test_a_beat_that_nobody_keeps_is_refused(beat: float) -> None:
    with pytest.raises(SettingsError, match="beat"):
        plan_station([_demand(2.0)], beats_per_minute=beat, swing=TEXTBOOK)


def test_no_putt_is_refused() -> None:
    with pytest.raises(SettingsError, match="at least one putt"):
        plan_station([], beats_per_minute=90, swing=TEXTBOOK)


def _with_through(ratio: float) -> Swing:
    """The textbook, drawn by many strokes to a through marker of ``ratio`` times the back marker."""
    strokes = strokes_of(Habits(length_ratio=ratio * 0.79), np.random.default_rng(0), [3.0] * 40)
    swing = own_swing(strokes, **FROM_STROKES)
    return Swing(
        swing.constant,
        type(swing.through_ratio)(ratio, 0.01),
        swing.ball_speed_ratio,
        swing.head_speed_kept,
        "made up",
        40,
    )


class TestOwnSwing:
    """The player's own figures."""

    def test_without_putts_it_is_the_textbook(self) -> None:
        assert own_swing([], **FROM_STROKES) == TEXTBOOK

    def test_many_strokes_give_the_players_constant_within_its_uncertainty(self) -> None:
        # The constant of the invented player is (r+1)/2 at no acceleration (docs/methods/station.md).
        for seed in range(20):
            strokes = strokes_of(Habits(downswing_power=2.4), np.random.default_rng(seed), [3.0] * 40)
            swing = own_swing(strokes, **FROM_STROKES)
            assert swing.constant.value == pytest.approx(1.70, abs=4 * swing.constant.sd)
            assert swing.constant.sd < 0.02
            assert swing.source == "this player's own, from 40 strokes"

    def test_the_constant_is_surer_the_more_strokes_there_are(self) -> None:
        strokes = strokes_of(
            Habits(downswing_power=2.4, time_spread=0, length_spread=0), np.random.default_rng(1), [3.0] * 30
        )
        swings = [own_swing(strokes[:n], **FROM_STROKES) for n in (3, 10, 30)]
        for swing in swings:
            assert swing.constant.value == pytest.approx(1.7, abs=3 * swing.constant.sd)
        sds = [swing.constant.sd for swing in swings]
        assert sds == sorted(sds, reverse=True)
        assert sds[0] < TEXTBOOK.constant.sd
        assert swings[0].source == "this player's own, from 3 strokes"

    def test_two_strokes_leave_the_textbook(self) -> None:
        strokes = strokes_of(Habits(downswing_power=2.4), np.random.default_rng(1), [3.0] * 2)
        assert own_swing(strokes, **FROM_STROKES) == TEXTBOOK

    def test_a_constant_that_changes_with_length_sets_each_marker(self) -> None:
        """The invented player's constant stays; here it is made to go with length^-0.2."""
        from dataclasses import replace

        from pacewright.core.measure import Measure

        made = []
        for stroke in strokes_of(Habits(), np.random.default_rng(2), [1.0, 3.0, 9.0] * 12):
            factor = (stroke.value("backswing_length_m") / 0.26) ** -0.2
            speed = Measure(stroke.value("impact_speed_m_s") * factor, 0.01)
            made.append(replace(stroke, measures={**stroke.measures, "impact_speed_m_s": speed}))
        swing = own_swing(made, **FROM_STROKES)
        near, far = plan_station(
            [_demand(1.6, 1.0), _demand(4.2, 9.0)], beats_per_minute=90, swing=swing
        ).stations
        assert swing.model is not None
        assert swing.model.length_exponent.value == pytest.approx(-0.2, abs=0.04)
        for one in (near, far):
            assert one.head_speed_m_s == pytest.approx(
                one.swing_constant * one.back_marker_m / one.downswing_time_s, rel=1e-6
            )
        assert near.swing_constant > far.swing_constant

    def test_a_station_far_from_the_strokes_that_were_seen_is_less_sure(self) -> None:
        swing = own_swing(strokes_of(Habits(), np.random.default_rng(6), [3.0] * 30), **FROM_STROKES)
        same, far = plan_station(
            [_demand(2.4), _demand(4.8, 12.0)], beats_per_minute=90, swing=swing
        ).stations
        assert far.back_marker_sd_m / far.back_marker_m > 1.5 * same.back_marker_sd_m / same.back_marker_m

    def test_what_the_strokes_say_of_time_and_length_stands_with_the_station(self) -> None:
        strokes = strokes_of(Habits(time_exponent=0.1), np.random.default_rng(7), [1.0, 3.0, 9.0] * 8)
        station = plan_station([_demand(2.0)], beats_per_minute=90, swing=own_swing(strokes, **FROM_STROKES))
        assert any("longer on longer putts" in note for note in station.notes)
        assert plan_station([_demand(2.0)], beats_per_minute=90, swing=TEXTBOOK).notes == ()

    def test_one_bad_stroke_moves_it_little(self) -> None:
        strokes = strokes_of(Habits(), np.random.default_rng(3), [3.0] * 12)
        bad = strokes_of(Habits(downswing_power=4.0), np.random.default_rng(3), [3.0])
        steady, disturbed = (own_swing(s, **FROM_STROKES) for s in (strokes, [*strokes[:-1], *bad]))
        assert disturbed.constant.value == pytest.approx(steady.constant.value, rel=0.01)

    def test_a_head_left_alone_after_contact_gives_equal_markers(self) -> None:
        # The head keeps 0.79 of its speed and so of its way: follow-through 0.79 of the backswing (derived).
        strokes = strokes_of(Habits(length_ratio=0.79), np.random.default_rng(4), [3.0] * 30)
        assert own_swing(strokes, **FROM_STROKES).through_ratio.value == pytest.approx(1.0, abs=0.03)

    def test_rehearsals_do_not_count(self) -> None:
        from dataclasses import replace

        putts = strokes_of(Habits(), np.random.default_rng(5), [3.0] * 5)
        rehearsals = [replace(stroke, kind="rehearsal") for stroke in putts]
        assert own_swing(rehearsals, **FROM_STROKES) == TEXTBOOK
