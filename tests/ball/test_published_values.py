"""Every check of the list of published values, within its tolerance; sources and status stand beside them."""

from __future__ import annotations

import re

import pytest

from validation import physics
from validation.tour_player import TourPlayer, expected_putts, holed_percent, long_putts_firmly

QUICK = [
    check
    for group in (
        physics.green_speed_checks, physics.skid_checks, physics.launch_checks, physics.slope_checks,
        physics.break_checks, physics.impact_checks, physics.capture_checks,
    )
    for check in group()
]  # fmt: skip


@pytest.mark.parametrize("check", QUICK, ids=lambda check: f"{check.group}: {check.what}")
def test_published_value(check: physics.Check) -> None:
    assert check.ok is not False, f"{check.ours} for {check.value} ({check.source}, {check.status})"


def test_simulated_tour_player() -> None:
    """Counts with Gelman's case study (read): 1.5 points; table after Broadie (second-hand): 0.03 putts."""
    checks = list(physics.outcome_checks())
    judged = [check for check in checks if check.tolerance is not None]
    assert len(judged) == 6
    assert [f"{check.what}: {check.ours}" for check in judged if not check.ok] == []


def test_tour_player_does_not_hang_on_the_seed() -> None:
    player = TourPlayer(long_putts_firmly)
    assert holed_percent(player, 7.95, seed=2) == pytest.approx(holed_percent(player, 7.95), abs=0.1)
    assert expected_putts(player, 60.0, seed=2) == pytest.approx(expected_putts(player, 60.0), abs=0.01)


def test_the_page_tells_what_was_found() -> None:
    """The page in docs/ is the one that these checks make; only digits of simulated figures may stray."""
    shown = physics.OUTPUT.read_text()
    for check in QUICK:
        assert f"| {check.what} |" in shown
    assert re.search(r"^\d+ of \d+ checks hold\.", shown, re.MULTILINE)


def test_a_check_can_fail() -> None:
    def made(ours: float, tolerance: float, absolute: bool = False) -> physics.Check:
        return physics.Check("g", "w", 2.0, "", "", "", ours, tolerance, absolute)

    assert made(2.01, 0.01).ok
    assert not made(2.03, 0.01).ok
    assert made(2.4, 0.5, True).ok
    assert not made(2.6, 0.5, True).ok
    assert "Missed: g, w." in physics.page([made(2.03, 0.01)])
