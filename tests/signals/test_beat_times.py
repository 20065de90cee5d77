"""Beats are found: our own tones by their shape, metronomes by their period."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from pacewright.render.beats import PITCH_HZ, BeatPlan, click_track
from pacewright.signals.beat_times import find_grids, find_tones, repeating_tones, tone_shape
from pacewright.signals.clicks import find_clicks

METRONOMES = Path(__file__).parent.parent / "data" / "metronome"


def ticks(name: str) -> list[float]:
    sound, rate = soundfile.read(METRONOMES / f"{name}.flac")
    return [click.time_s for click in find_clicks(sound, rate, remembers=False)]


@pytest.mark.parametrize(("name", "count", "bpm"), [("m184b", 24, 184.006), ("m208a", 27, 207.92)])
def test_a_real_metronome(name: str, count: int, bpm: float) -> None:
    """Counts and tempo were read off the recordings by another method (fits on the data, not published)."""
    (grid,) = find_grids(ticks(name))
    assert len(grid.times_s) == count
    assert 60.0 / grid.interval_s == pytest.approx(bpm, abs=0.05)
    assert grid.spread_s < 5e-4


def test_two_metronomes_at_once_are_told_apart() -> None:
    grids = find_grids(ticks("m208a184b"))
    assert [60.0 / grid.interval_s for grid in grids] == pytest.approx([207.92, 184.006], abs=0.1)


@pytest.mark.parametrize("role", ["start", "rest"])
def test_the_tone_looked_for_is_the_tone_that_is_played(role: str) -> None:
    track = click_track(BeatPlan(60.0, repeats=1, rest_beats=1, count_in_beats=0, level_db=0.0))
    at = track.onset_indices[track.roles.index(role)]
    played = track.samples[at : at + 2880]
    shape = tone_shape(PITCH_HZ[role], 48000)
    assert played / np.abs(played).max() == pytest.approx(shape, abs=1e-6)


@pytest.mark.parametrize("rate", [44100, 48000])
def test_own_tones_are_found_with_their_roles_in_noise(rate: int) -> None:
    track = click_track(BeatPlan(92.1, repeats=3, rate_hz=rate, level_db=-6.0))
    noise = 0.02 * np.random.default_rng(0).standard_normal(track.samples.size)
    roles = list(PITCH_HZ)
    found = find_tones(track.samples + noise, rate, list(PITCH_HZ.values()))
    onsets = track.onset_indices / rate
    heard = [found[int(np.argmin([abs(one.time_s - t) for one in found]))] for t in onsets]
    assert [one.time_s for one in heard] == pytest.approx(onsets, abs=3e-3)
    assert [roles[one.tone] for one in heard] == list(track.roles)


def test_a_soft_beat_that_was_not_heard_is_filled_in() -> None:
    times = [0.5 * k for k in range(16) if k not in (6, 9)]
    tones = [k % 4 for k in range(16) if k not in (6, 9)]
    (grid,) = find_grids(times)
    whole = repeating_tones(grid, tones)
    assert [one.tone for one in whole] == [k % 4 for k in range(16)]
    assert [one.time_s for one in whole] == pytest.approx([0.5 * k for k in range(16)], abs=1e-9)


def test_clicks_at_random_are_no_beat() -> None:
    rng = np.random.default_rng(1)
    for _ in range(20):
        assert find_grids(np.cumsum(rng.uniform(0.3, 3.0, 30))) == []


def test_a_stated_beat_is_looked_for_and_no_other() -> None:
    times = [0.7 * k for k in range(12)]
    assert find_grids(times, interval_s=0.5) == []
    assert len(find_grids(times, interval_s=0.7)[0].times_s) == 12
