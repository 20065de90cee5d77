"""Quick entry and scores: length and line apart, holed putts as what they are."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.coaching.outcomes import (
    CAPTURED_AT_MOST_PAST_M,
    arrays,
    holed_outcome,
    parse_outcome,
    score,
)
from pacewright.core.errors import QualityError, SettingsError
from pacewright.core.outcome import Outcome, Putt
from pacewright.core.units import FOOT_M
from pacewright.simulate.players import SimulatedPlayer, Task, mixed_lengths, simulate_putts


@pytest.mark.parametrize(
    ("text", "along_m", "holed"),
    [
        ("+2ft", 3.0 + 2 * FOOT_M, False),
        ("-40cm", 2.6, False),
        ("−40 cm", 2.6, False),
        ("2ft past", 3.0 + 2 * FOOT_M, False),
        ("40cm short", 2.6, False),
        ("+0", 3.0, False),
        ("0", 3.0, False),
        ("in", None, True),
        ("Holed", None, True),
        ("holed 1ft past", 3.0 + FOOT_M, True),
        ("in, 30cm past", 3.3, True),
        ("holed 1ft", 3.0 + FOOT_M, True),
        ("+1ft 6in", 3.0 + 1.5 * FOOT_M, False),
    ],
)
def test_what_is_called_out_from_the_hole(text: str, along_m: float | None, holed: bool) -> None:
    outcome = parse_outcome(text, 3.0)
    assert outcome.holed is holed
    assert outcome.along_m == (None if along_m is None else pytest.approx(along_m))


@pytest.mark.parametrize(
    "text", ["", "2ft", "long", "+2", "+2kg", "holed -1ft", "-4m", "-3m", "nan", "+infft"]
)
def test_what_makes_no_sense_is_refused_with_what_would_do(text: str) -> None:
    with pytest.raises(SettingsError, match=r"past|short|length|\+2ft"):
        parse_outcome(text, 3.0)


@given(st.floats(0.3, 30.0), st.floats(-0.9, 2.0))
def test_an_entry_in_centimetres_comes_back(asked_m: float, share: float) -> None:
    off_cm = round(100.0 * share * asked_m)
    if asked_m + off_cm / 100.0 <= 0.0:
        return
    outcome = parse_outcome(f"{off_cm:+d}cm", asked_m)
    assert outcome.along_m == pytest.approx(asked_m + off_cm / 100.0)


def test_the_place_of_the_hole_is_no_estimate_of_the_pace_left() -> None:
    assert holed_outcome(3.0, 3.0).is_censored
    assert holed_outcome(3.0, 2.98).is_censored
    assert holed_outcome(3.0, None).is_censored
    assert holed_outcome(3.0, 3.4).along_m == 3.4


def test_constant_variable_and_absolute_error_of_known_putts() -> None:
    """By hand: errors +10, −10, +20, 0 % of the distance; mean 5 %, SD 12.9 %, mean size 10 %."""
    putts = [
        Putt(asked, Outcome(asked * (1.0 + error)))
        for asked, error in ((2.0, 0.1), (4.0, -0.1), (5.0, 0.2), (10.0, 0.0))
    ]
    length = score(putts).length
    assert length.constant == pytest.approx(0.05)
    assert length.variable == pytest.approx(math.sqrt(0.05 / 3.0))
    assert length.absolute == pytest.approx(0.10)
    assert length.variable_low < length.variable < length.variable_high


def test_line_is_scored_apart_from_length() -> None:
    putts = [Putt(4.0, Outcome(4.0 + off, side)) for off, side in ((0.4, 0.1), (-0.4, 0.3), (0.1, 0.2))]
    wide = [replace(p, outcome=replace(p.outcome, across_m=(p.outcome.across_m or 0.0) + 0.2)) for p in putts]
    one, other = score(putts), score(wide)
    assert one.length == other.length
    assert one.line is not None
    assert other.line is not None
    assert other.line.constant - one.line.constant == pytest.approx(0.05)
    assert score([Putt(4.0, Outcome(4.1)), Putt(4.0, Outcome(3.8))]).line is None


def test_holed_putts_are_not_putts_without_error() -> None:
    """A player with 9 % spread putting at a hole: the spread comes back; zeros would make it too small."""
    rng = np.random.default_rng(4)
    player = SimulatedPlayer()
    true = player.true_spread()
    found, zeros, holed = [], [], 0
    for _ in range(40):
        putts = simulate_putts(player, rng, [Task(mixed_lengths(rng, 80, 1.0, 4.0))], hole=True)
        found.append(score(putts).length.variable)
        error = arrays(putts).length_error
        zeros.append(np.nan_to_num(error).std(ddof=1))
        holed += int(np.isnan(error).sum())
    assert holed > 0.2 * 40 * 80
    assert np.mean(found) == pytest.approx(true, rel=0.05)
    assert np.mean(zeros) < 0.9 * true


def test_all_holed_or_too_few_is_said() -> None:
    with pytest.raises(QualityError, match="pace left"):
        score([Putt(1.0, Outcome(holed=True))] * 5)
    with pytest.raises(QualityError, match="2 or more"):
        score([Putt(1.0, Outcome(1.0))])


def test_a_guess_that_follows_the_ball_correlates() -> None:
    rng = np.random.default_rng(5)
    error = rng.normal(0.0, 0.1, 60)

    def guessed(share: float) -> float:
        noise = rng.normal(0.0, 0.1, 60)
        putts = [
            Putt(5.0, Outcome(5.0 * (1.0 + e)), guess_along_m=5.0 * (1.0 + share * e + (1.0 - share) * n))
            for e, n in zip(error, noise, strict=True)
        ]
        guess = score(putts).guess
        assert guess is not None
        return guess.correlation

    assert guessed(0.9) > 0.9
    assert abs(guessed(0.0)) < 0.35


def test_the_farthest_a_holed_ball_would_have_run_is_that_of_the_published_capture_speed() -> None:
    """1.63 m/s at the rim (Holmes 1991, second-hand); 0.549 m/s² at Stimp 10 (derived): v²/2a."""
    assert pytest.approx(1.63**2 / (2 * 0.549), abs=0.03) == CAPTURED_AT_MOST_PAST_M
