"""Scoring a drill, its history, and published figures beside it."""

from __future__ import annotations

import datetime
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.coaching.drill_words import drill_sentences, history_sentences
from pacewright.coaching.drills import DrillScore, drill_history, proportion, score_drill
from pacewright.coaching.on_the_green import TOUR_HOLED
from pacewright.coaching.skill_norms import spread_norm, tour_expected_putts, tour_holed
from pacewright.core.errors import QualityError
from pacewright.core.measure import Measure
from pacewright.core.outcome import Outcome, Putt
from pacewright.core.units import FOOT_M

DAY = datetime.date(2026, 3, 2)


def _go(seed: int, spread: float, putts: int = 30, day: int = 0, **timing: float) -> DrillScore:
    rng = np.random.default_rng(seed)
    made = [
        Putt(
            6.0,
            Outcome(float(6.0 * np.exp(spread * rng.normal()))),
            beats_per_minute=timing.get("beat"),
            measures={name: Measure(value, 0.0) for name, value in timing.items() if name != "beat"},
        )
        for _ in range(putts)
    ]
    return score_drill(made, "lag", DAY + datetime.timedelta(days=day))


def test_score_counts_what_is_near() -> None:
    putts = [Putt(10.0, Outcome(x)) for x in (9.1, 10.9, 11.2, 8.0)] + [Putt(10.0, Outcome(holed=True))]
    scored = score_drill(putts, "lag", DAY)
    assert scored.inside.value == pytest.approx(3 / 5)
    assert scored.holed == 1
    assert scored.lengths_m == (10.0,)


def test_timing_is_scored_where_it_was_measured() -> None:
    scored = _go(1, 0.1, backswing_time_s=0.66, downswing_time_s=0.33, beat=90.0)
    assert scored.timing is not None
    assert scored.timing.time_ratio == pytest.approx(2.0)
    assert scored.timing.on_beat is not None
    assert scored.timing.on_beat.value == 1.0
    assert _go(1, 0.1).timing is None


def test_wilson_interval() -> None:
    """8 of 10 at 90 %: 0.541 to 0.930 by the formula of Wilson 1927 (derived)."""
    span = proportion(8, 10)
    z = 1.645
    for edge in (span.low, span.high):
        assert abs(0.8 - edge) == pytest.approx(z * math.sqrt(edge * (1 - edge) / 10), rel=1e-6)


@given(st.integers(1, 200), st.data())
def test_a_proportion_holds_its_value(tries: int, data: st.DataObject) -> None:
    span = proportion(data.draw(st.integers(0, tries)), tries)
    assert 0.0 <= span.low <= span.value + 1e-12
    assert span.value - 1e-12 <= span.high <= 1.0


def test_tour_figures_are_the_published_ones() -> None:
    """Broadie's counts as Gelman printed them (read); they give the percentages of the reference."""
    norm = tour_holed()
    for (distance, putts, holed), (feet, share) in zip(norm.rows, TOUR_HOLED, strict=True):
        assert distance == pytest.approx(feet * FOOT_M)
        assert holed / putts == pytest.approx(share, abs=0.0006)
        assert norm.share(distance)[0] == pytest.approx(holed / putts)
    assert norm.share(0.1)[1] == 0
    assert math.isnan(norm.share(100.0)[0])


def test_expected_putts_are_the_published_ones() -> None:
    """Per-foot table after Broadie (second-hand)."""
    norm = tour_expected_putts()
    for feet, putts in ((8, 1.515), (20, 1.878), (40, 2.055), (60, 2.218)):
        assert norm.putts(feet * FOOT_M) == pytest.approx(putts)
    assert 1.515 < norm.putts(9 * FOOT_M) < 1.626
    assert math.isnan(norm.putts(0.5))


def test_spreads_of_skilled_amateurs_are_the_published_ones() -> None:
    """10.6 % mixed, 6.8 % repeated, 43 players: Karlsen and Nilsson 2008 (read)."""
    assert spread_norm("mixed").value == 0.106
    assert spread_norm("repeated").value == 0.068
    assert spread_norm("mixed").players == 43


def test_norms_come_with_population_number_and_source() -> None:
    putts = [Putt(2.4, Outcome(holed=True)) for _ in range(5)] + [
        Putt(2.4, Outcome(2.2 + 0.1 * k)) for k in (0, 5, 6)
    ]
    text = " ".join(drill_sentences(score_drill(putts, "short", DAY)))
    for part in (
        "PGA Tour players, 2016 to 2018",
        "33,275 putts",
        "take 1.5",
        "Broadie",
        "43 skilled amateurs",
        "Karlsen",
    ):
        assert part in text


def test_two_goes_make_no_trend_and_a_plain_bound() -> None:
    history = drill_history([_go(1, 0.1), _go(2, 0.1, day=7)])
    assert history.trend is None
    assert history.typical_error == pytest.approx(math.sqrt(0.5 / 29))
    assert "takes 4 goes" in history_sentences(history)[1]
    with pytest.raises(QualityError, match="two goes"):
        drill_history([_go(1, 0.1)])


def test_a_steady_gain_is_a_trend_and_luck_is_not() -> None:
    gain = drill_history([_go(k, 0.2 * 0.8**k, putts=60, day=k) for k in range(8)])
    assert gain.trend is not None
    assert gain.trend.low < -0.2 < gain.trend.high < 0.0
    assert "falls by about" in history_sentences(gain)[1]
    claimed = 0
    for seed in range(60):
        trend = drill_history([_go(100 * seed + k, 0.1, putts=20, day=k) for k in range(6)]).trend
        claimed += trend is not None and not trend.low <= 0.0 <= trend.high
    assert claimed <= 0.10 * 60 + 4


def test_a_history_is_put_in_order_of_date() -> None:
    history = drill_history([_go(1, 0.1, day=9), _go(2, 0.1, day=1)])
    assert [one.date.day for one in history.scores] == [3, 11]


def test_a_bias_within_luck_is_not_claimed() -> None:
    text = " ".join(drill_sentences(_go(3, 0.1)))
    assert "neither long nor short" in text
