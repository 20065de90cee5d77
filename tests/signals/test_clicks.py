"""Contacts are heard when they happen, and nothing else is."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import sosfilt

from pacewright.core.errors import SettingsError
from pacewright.render.beats import BeatPlan, click_track
from pacewright.signals.clicks import ClickDetector, KnownBeat, band_sections, find_clicks, usable_bands
from validation.listening_sounds import CONTACTS, coloured, contact, dropped_club, talk

RATES = (44100, 48000)


def with_contacts(
    noise: np.ndarray, rate: int, times: list[float], level: float, seed: int = 0
) -> np.ndarray:
    """Contacts of each kind in turn, RMS over 5 ms ``level``, on whole samples."""
    rng = np.random.default_rng(seed)
    sound = noise.copy()
    for k, time in enumerate(times):
        start = round(time * rate)
        burst = level * contact(CONTACTS[k % 4], rate, rng)
        sound[start : start + burst.size] += burst
    return sound


@pytest.mark.parametrize("rate", RATES)
def test_every_contact_10_db_over_white_noise_is_timed_within_half_a_millisecond(rate: int) -> None:
    times = [0.8 + 1.37 * k for k in range(12)]
    noise = 0.02 * np.random.default_rng(1).standard_normal(18 * rate)
    found = find_clicks(with_contacts(noise, rate, times, 0.02 * 10**0.5), rate)
    assert [click.time_s for click in found] == pytest.approx(times, abs=5e-4)
    assert all(1e-4 <= click.sd_s < 5e-4 for click in found)


def test_half_a_minute_of_noise_of_any_colour_holds_no_contact() -> None:
    for exponent in (0.0, 1.0, 2.0):
        noise = coloured(30 * 48000, 48000, np.random.default_rng(2), exponent)
        assert find_clicks(0.1 * noise, 48000) == []


def test_contacts_are_found_in_talk_and_talk_is_not() -> None:
    rate = 44100
    voice = 0.1 * talk(30 * rate, rate, np.random.default_rng(75))
    times = [4.0 + 2.9 * k for k in range(8)]
    found = find_clicks(with_contacts(voice, rate, times, 0.1 * 10**0.5), rate)
    assert [click.time_s for click in found] == pytest.approx(times, abs=2e-3)


@pytest.mark.parametrize("rate", RATES)
def test_own_beats_are_never_contacts_and_a_contact_on_a_beat_is_found(rate: int) -> None:
    track = click_track(BeatPlan(90.0, repeats=4, rate_hz=rate, level_db=-6.0))
    tones = {role: k for k, role in enumerate(dict.fromkeys(track.roles))}
    beats = [
        KnownBeat(onset / rate, tones[role])
        for onset, role in zip(track.onset_indices, track.roles, strict=True)
    ]
    noise = 0.003 * np.random.default_rng(3).standard_normal(track.samples.size)
    sound = track.samples + noise
    assert find_clicks(sound, rate, beats) == []
    last_through = max(b.time_s for b in beats if b.tone == tones["through"])
    found = find_clicks(with_contacts(sound, rate, [last_through], 0.2), rate, beats)
    assert [click.time_s for click in found] == pytest.approx([last_through], abs=5e-4)


def test_unannounced_beats_would_have_been_heard_as_contacts() -> None:
    """What the test above shows is the masking, not deafness."""
    track = click_track(BeatPlan(90.0, repeats=2, rate_hz=48000, level_db=-6.0))
    assert len(find_clicks(track.samples, 48000)) >= 3


@pytest.mark.parametrize("seed", range(4, 10))
def test_a_ringing_shaft_is_not_a_contact(seed: int) -> None:
    rate, rng = 48000, np.random.default_rng(seed)
    sound = 0.001 * rng.standard_normal(4 * rate)
    drop = dropped_club(rate, rng)
    sound[rate : rate + drop.size] += drop
    assert find_clicks(sound, rate) == []


def test_what_stands_out_in_one_band_alone_is_not_a_contact() -> None:
    """Talk is loud in the low bands; a burst in a high one that is not heard above it there is a plosive."""
    rate, rng = 48000, np.random.default_rng(11)
    # Room noise, syllables at the pace of speech, and the plosive in the closure between two of them.
    sound = 0.02 * rng.standard_normal(8 * rate)
    voice = sosfilt(band_sections(1250.0, 5000.0, rate), rng.standard_normal(sound.size))
    sound += voice * np.clip(np.sin(2 * np.pi * 4.0 * np.arange(sound.size) / rate + 2.0), 0.0, None)
    hiss = sosfilt(band_sections(5000.0, 10000.0, rate), rng.standard_normal(int(0.04 * rate)))
    plosive = np.exp(-np.arange(hiss.size) / (0.004 * rate)) * hiss / np.std(hiss)
    sound[5 * rate : 5 * rate + hiss.size] += 0.4 * plosive
    assert find_clicks(sound, rate) == []
    found = find_clicks(with_contacts(sound, rate, [5.0], 1.5), rate)
    assert [click.time_s for click in found] == pytest.approx([5.0], abs=1e-3)


def test_from_the_first_sample_on_a_voice_is_no_contact_and_a_contact_is() -> None:
    """A file may begin in the middle of a sentence, or with a putt."""
    rate = 44100
    for seed in (101, 103, 106):
        voice = 0.1 * talk(6 * rate, rate, np.random.default_rng(seed))
        assert find_clicks(voice, rate) == []
        found = find_clicks(with_contacts(voice, rate, [0.4], 0.4), rate)
        assert [click.time_s for click in found] == pytest.approx([0.4], abs=2e-3)


@settings(max_examples=20)
@given(st.lists(st.integers(1, 30000), min_size=1, max_size=12), st.booleans())
def test_the_answers_do_not_depend_on_the_pieces(pieces: list[int], remembers: bool) -> None:
    rate = 22050
    noise = 0.02 * np.random.default_rng(5).standard_normal(5 * rate)
    sound = with_contacts(noise, rate, [2.3, 3.4], 0.3)
    beats = [KnownBeat(0.3, 1), KnownBeat(1.3, 1), KnownBeat(3.38, 1)]
    detector = ClickDetector(rate, beats, remembers=remembers)
    found, at = [], 0
    for piece in pieces:
        found += detector.push(sound[at : at + piece])
        at += piece
    found += detector.push(sound[at:]) + detector.finish()
    whole = ClickDetector(rate, beats, remembers=remembers)
    assert found == whole.push(sound) + whole.finish()
    assert len(found) == 2


@pytest.mark.parametrize("level_db", [-60.0, -37.0, -12.0, 20.0])
def test_loudness_as_a_whole_does_not_matter(level_db: float) -> None:
    rate = 22050
    noise = 0.1 * np.random.default_rng(6).standard_normal(3 * rate)
    sound = with_contacts(noise, rate, [0.9, 2.1], 1.0)
    usual = find_clicks(sound, rate)
    scaled = find_clicks(sound * 10 ** (level_db / 20.0), rate)
    assert [c.time_s for c in scaled] == pytest.approx([c.time_s for c in usual], abs=1e-6)
    assert len(usual) == 2


def test_bands_are_butterworth() -> None:
    """−3.01 dB at each corner, and 24 dB an octave beyond."""
    rate = 48000.0
    sections = band_sections(2500.0, 5000.0, rate)

    def gain_db(frequency: float) -> float:
        z = np.exp(-2j * np.pi * frequency / rate * np.arange(3))
        return 20.0 * np.log10(abs(np.prod(sections[:, :3] @ z / (sections[:, 3:] @ z))))

    assert gain_db(2500.0) == pytest.approx(-3.01, abs=0.1)
    assert gain_db(5000.0) == pytest.approx(-3.01, abs=0.1)
    assert gain_db(312.5) - gain_db(625.0) == pytest.approx(-24.0, abs=0.5)


def test_a_coarse_rate_keeps_the_bands_that_it_carries() -> None:
    assert usable_bands(48000)[-1] == (10000.0, 18000.0)
    assert usable_bands(8000) == [(1250.0, 2500.0), (2500.0, 3600.0)]
    with pytest.raises(SettingsError, match="8000 to 192000"):
        ClickDetector(4000)


def test_silence_and_nothing() -> None:
    assert find_clicks(np.zeros(48000), 48000) == []
    assert find_clicks([], 48000) == []
