"""The click track: beats on the right sample, to the last one."""

from __future__ import annotations

import itertools
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from pacewright.core.errors import SettingsError
from pacewright.render.audio import audio_bytes, check_audio_path
from pacewright.render.beats import PITCH_HZ, BeatPlan, beat_onset_index, click_track


def first_samples_of_clicks(samples: np.ndarray, gap: int) -> np.ndarray:
    """Where sound starts after ``gap`` samples of silence; found in the sound alone."""
    sounding = np.flatnonzero(samples)
    is_first = np.diff(sounding, prepend=-gap - 1) > gap
    return sounding[is_first]


@pytest.mark.parametrize("rate_hz", [44100, 48000])
@pytest.mark.parametrize("bpm", [90.0, 61.7, 187.3])
def test_each_click_starts_on_the_sample_it_says(rate_hz: int, bpm: float) -> None:
    track = click_track(BeatPlan(bpm, repeats=4, rate_hz=rate_hz))
    found = first_samples_of_clicks(track.samples, gap=rate_hz // 20)
    np.testing.assert_array_equal(found, track.onset_indices)


@settings(max_examples=40)
@given(bpm=st.decimals(30, 200, places=2), rate_hz=st.sampled_from([44100, 48000]))
def test_no_drift_over_ten_minutes(bpm: Decimal, rate_hz: int) -> None:
    beats = int(bpm * 10)
    samples_a_beat = 60 * rate_hz / Fraction(bpm)
    for beat in (1, beats // 2, beats):
        exact = 60 * rate_hz * Fraction(beat) / Fraction(bpm)
        assert abs(beat_onset_index(beat, samples_a_beat) - exact) <= Fraction(1, 2)


def test_ten_minutes_in_the_sound_itself() -> None:
    # 87.3 beats a minute is not a whole number of samples: 32989.69… at 48 kHz.
    plan = BeatPlan(87.3, repeats=109, rest_beats=5, count_in_beats=1)
    track = click_track(plan)
    assert track.samples.size > 600 * 48000 * 0.999
    exact = [Fraction(60 * 48000 * 10 * k, 873) for k in range(plan.beat_count)]
    found = first_samples_of_clicks(track.samples, gap=2400)
    worst = max(abs(Fraction(int(index)) - at) for index, at in zip(found, exact, strict=True))
    assert worst <= Fraction(1, 2)


def test_roles_follow_the_station() -> None:
    plan = BeatPlan(90, repeats=2, rest_beats=2, count_in_beats=3)
    stroke = ("start", "back", "through", "rest", "rest")
    assert plan.roles == ("count-in",) * 3 + stroke * 2
    assert len(click_track(plan).onset_indices) == plan.beat_count == 13


def test_beats_can_be_told_apart_by_ear() -> None:
    track = click_track(BeatPlan(60, repeats=1, rest_beats=1, count_in_beats=1))
    heard = {}
    for onset, role in zip(track.onset_indices, track.roles, strict=True):
        spectrum = np.abs(np.fft.rfft(track.samples[onset : onset + 2880], 48000))
        heard[role] = float(np.argmax(spectrum))
    assert set(heard) == set(PITCH_HZ)
    for role, pitch_hz in heard.items():
        assert pitch_hz == pytest.approx(PITCH_HZ[role], rel=0.03)
    pitches = sorted(heard.values())
    assert all(high / low > 2 ** (2.5 / 12) for low, high in itertools.pairwise(pitches))


def test_level_and_soft_attack() -> None:
    track = click_track(BeatPlan(90, repeats=1, level_db=-12.0))
    assert float(np.max(np.abs(track.samples))) == pytest.approx(10 ** (-12 / 20), rel=1e-5)
    first = track.samples[track.onset_indices[3]]
    assert 0.0 < abs(float(first)) < 0.01 * 10 ** (-12 / 20)


@pytest.mark.parametrize("ending", [".wav", ".flac"])
def test_the_file_holds_the_same_onsets(tmp_path: Path, ending: str) -> None:
    track = click_track(BeatPlan(96.5, repeats=2, level_db=-40.0, rate_hz=44100))
    path = tmp_path / f"beats{ending}"
    path.write_bytes(audio_bytes(track, check_audio_path(path)))
    samples, rate_hz = soundfile.read(path)
    assert rate_hz == 44100
    assert samples.ndim == 1
    np.testing.assert_array_equal(first_samples_of_clicks(samples, 2205), track.onset_indices)


@pytest.mark.parametrize(
    "bad",
    [
        {"beats_per_minute": 29.9},
        {"beats_per_minute": 201},
        {"beats_per_minute": float("nan")},
        {"repeats": 0},
        {"rest_beats": -1},
        {"level_db": 3.0},
        {"rate_hz": 22050},
        {"repeats": 5000},
    ],
)
def test_settings_without_sense_are_refused(bad: dict[str, float]) -> None:
    with pytest.raises(SettingsError):
        BeatPlan(**bad)  # type: ignore[arg-type]


def test_other_endings_are_refused() -> None:
    with pytest.raises(SettingsError, match=r"\.wav or \.flac"):
        check_audio_path(Path("beats.mp3"))
