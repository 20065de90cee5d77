"""Holing, expected putts and three-putts against published figures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pacewright.coaching.on_the_green import (
    AIM_PAST_M,
    FIRST_PUTTS,
    LINE_SD_RAD,
    TOUR_HOLED,
    TOUR_PLAYER,
    Putting,
    expected_putts,
    first_putt_holed,
    holed_share,
    round_outcome,
)
from pacewright.core.units import FOOT_M


def test_the_simulated_tour_player_holes_what_the_counts_say() -> None:
    """Broadie's counts, published with Gelman's case study (read); fit 1.02° (from memory) and 8 % (read)."""
    for feet, share in TOUR_HOLED:
        tolerance = 0.015 if feet in (7.95, 20.44) else 0.03
        assert first_putt_holed(feet * FOOT_M, TOUR_PLAYER) == pytest.approx(share, abs=tolerance), feet


@pytest.mark.parametrize(
    ("feet", "putts"),
    [(3, 1.053), (8, 1.515), (20, 1.878), (30, 1.978), (40, 2.055), (50, 2.135), (60, 2.218)],
)
def test_the_simulated_tour_player_needs_the_putts_of_the_table(feet: float, putts: float) -> None:
    """Per-foot table after Broadie (second-hand); the aim past on long putts was chosen with it in view."""
    assert expected_putts([feet * FOOT_M], TOUR_PLAYER)[0] == pytest.approx(putts, abs=0.03)


def test_published_chances_come_back_and_go_on_sensibly() -> None:
    feet = np.array([row[0] for row in TOUR_HOLED])
    assert holed_share(feet * FOOT_M) == pytest.approx([row[1] for row in TOUR_HOLED])
    assert holed_share(0.1) > 0.999
    assert 0.0 < holed_share(60.0) < 0.023
    assert holed_share(5.0 * FOOT_M, "amateur") == pytest.approx(0.5, abs=0.01)


@given(st.floats(0.01, 40.0), st.floats(0.01, 40.0))
def test_nearer_is_never_harder(one_m: float, other_m: float) -> None:
    near, far = sorted((one_m, other_m))
    for holing in ("tour", "amateur"):
        assert holed_share(near, holing) >= holed_share(far, holing) - 1e-12


@settings(max_examples=30, deadline=None)
@given(st.floats(0.03, 0.2), st.floats(0.01, 0.05), st.floats(1.0, 15.0))
def test_leaves_agree_with_ten_thousand_simulated_putts(spread: float, line: float, length_m: float) -> None:
    player = Putting(spread, line)
    rng = np.random.default_rng(1)
    along = (length_m + AIM_PAST_M) * np.exp(spread * rng.standard_normal(40_000))
    angle = line * rng.standard_normal(40_000)
    half_hole = math.asin(min((0.054 - 0.021335) / length_m, 1.0))
    holed = (np.abs(angle) < half_hole) & (along >= length_m) & (along <= length_m + 3 * FOOT_M)
    left = np.hypot(along * np.cos(angle) - length_m, along * np.sin(angle))
    outcome = round_outcome(player, ((length_m, 1.0),))
    assert first_putt_holed(length_m, player) == pytest.approx(holed.mean(), abs=0.012)
    assert outcome.left_outside == pytest.approx(np.mean(~holed & (left > 3 * FOOT_M)), abs=0.02)
    three = np.where(holed, 0.0, 1.0 - holed_share(left, "amateur")).mean()
    assert outcome.three_putts == pytest.approx(three, abs=0.01)


def test_a_steadier_player_leaves_fewer_and_three_putts_less() -> None:
    steady, wild = (round_outcome(Putting(spread, LINE_SD_RAD["amateur"])) for spread in (0.06, 0.12))
    assert steady.left_outside < wild.left_outside
    assert steady.three_putts < wild.three_putts
    assert steady.putts < wild.putts
    assert steady.first_putts == 18 == sum(count for _, count in FIRST_PUTTS)


def test_half_of_five_foot_putts_fit_the_stated_direction_of_amateurs() -> None:
    """50 % from 5 ft for players who score in the 90s (Broadie 2014, second-hand)."""
    assert first_putt_holed(5 * FOOT_M, Putting(0.10, LINE_SD_RAD["amateur"])) == pytest.approx(0.5, abs=0.02)
