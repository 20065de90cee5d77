"""A sound becomes contacts, beats, and errors against the beat."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from pacewright.app.listening import ListenOptions, heard_dict, listen, listen_to
from pacewright.app.sound_files import Sound, read_sound
from pacewright.core.errors import ReadError, SettingsError
from pacewright.core.station import contact_share
from pacewright.render.beats import BeatPlan, click_track
from validation.listening_sounds import CONTACTS, contact

RATE = 48000
METRONOMES = Path(__file__).parent.parent / "data" / "metronome"


def practice(
    lateness_s: list[float], share: float = 0.5, bpm: float = 90.0
) -> tuple[np.ndarray, list[float]]:
    """Our click track with a contact in each stroke, that late; and when the contacts are."""
    track = click_track(BeatPlan(bpm, repeats=len(lateness_s), rate_hz=RATE, level_db=-6.0))
    rng = np.random.default_rng(0)
    sound = track.samples + 0.003 * rng.standard_normal(track.samples.size)
    backs = [at for at, role in zip(track.onset_indices, track.roles, strict=True) if role == "back"]
    times = []
    for k, (back, late) in enumerate(zip(backs, lateness_s, strict=True)):
        start = round(back + (share * 60.0 / bpm + late) * RATE)
        burst = 0.1 * contact(CONTACTS[k % 4], RATE, rng)
        sound[start : start + burst.size] += burst
        times.append(start / RATE)
    return sound, times


@pytest.mark.parametrize("stated", [None, 90.0])
def test_contacts_are_held_against_half_a_beat_after_the_back_beat(stated: float | None) -> None:
    late = [0.02, -0.035, 0.0, 0.05]
    sound, times = practice(late)
    heard = listen_to(Sound(sound, RATE), ListenOptions(stated))
    assert heard.beats_from == "tones"
    assert heard.beats_per_minute == pytest.approx(90.0, abs=0.02)
    assert [beat.role for beat in heard.beats][:6] == ["count-in"] * 3 + ["start", "back", "through"]
    assert [c.time_s for c in heard.contacts] == pytest.approx(times, abs=1e-3)
    assert [c.beat_error_s for c in heard.contacts] == pytest.approx(late, abs=2e-3)


def test_unequal_markers_move_the_place_of_contact() -> None:
    """Derived: with F = B/2, arccos(−1/3)/π = 0.608 of a beat."""
    assert contact_share(0.3, 0.3) == 0.5
    assert contact_share(0.4, 0.2) == pytest.approx(0.6082, abs=1e-4)
    sound, _ = practice([0.0, 0.0, 0.0], share=contact_share(0.4, 0.2))
    heard = listen_to(Sound(sound, RATE), ListenOptions(None, 0.4, 0.2))
    assert [c.beat_error_s for c in heard.contacts] == pytest.approx([0.0] * 3, abs=2e-3)


def test_a_metronome_is_all_beats_and_no_contact() -> None:
    heard = listen(METRONOMES / "m184b.flac")
    assert (heard.beats_from, len(heard.beats), heard.contacts) == ("clicks", 24, ())
    assert heard.beats_per_minute == pytest.approx(184.006, abs=0.05)


def test_without_a_sounding_beat_the_stated_one_shows_the_spread() -> None:
    rng = np.random.default_rng(1)
    late = np.array([0.03, -0.03, 0.01, -0.01, 0.0])
    sound = 0.001 * rng.standard_normal(20 * RATE)
    for k, one in enumerate(late):
        start = round((1.234 + 3.0 * k + one) * RATE)
        burst = 0.1 * contact("modes", RATE, rng)
        sound[start : start + burst.size] += burst
    heard = listen_to(Sound(sound, RATE), ListenOptions(60.0))
    assert (heard.beats_from, heard.beats) == ("stated", ())
    assert [c.beat_error_s for c in heard.contacts] == pytest.approx(late, abs=2e-3)
    alone = listen_to(Sound(sound, RATE))
    assert [c.beat_error_s for c in alone.contacts] == [None] * 5
    short = listen_to(Sound(sound[: 6 * RATE], RATE), ListenOptions(60.0))
    assert [c.beat_error_s for c in short.contacts] == [None, None]


def test_the_fixed_words() -> None:
    sound, _ = practice([0.01, 0.0])
    body = heard_dict(listen_to(Sound(sound, RATE)))
    assert list(body["contacts"][0]) == ["time_s", "sd", "strength_db", "beat_error_s"]
    assert all(isinstance(time, float) for time in body["beats"])


@pytest.mark.parametrize("ending", ["wav", "flac", "ogg", "mp3"])
def test_every_kind_of_sound_file(ending: str, tmp_path: Path) -> None:
    sound, times = practice([0.0, 0.02])
    path = tmp_path / f"practice.{ending}"
    soundfile.write(path, np.stack([sound, sound], axis=1), RATE)
    assert [c.time_s for c in listen(path).contacts] == pytest.approx(times, abs=3e-3)


def test_the_sound_track_of_a_clip(tmp_path: Path) -> None:
    av = pytest.importorskip("av")
    sound, times = practice([0.0, 0.02])
    path = tmp_path / "clip.m4a"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("aac", rate=RATE, layout="mono")
        for start in range(0, sound.size - 1024, 1024):
            frame = av.AudioFrame.from_ndarray(
                sound[start : start + 1024].astype(np.float32)[None, :], format="fltp", layout="mono"
            )
            frame.sample_rate = RATE
            frame.pts = start
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    heard = listen(path)
    offsets = np.array([c.time_s for c in heard.contacts]) - times
    assert np.ptp(offsets) < 3e-3  # the codec's own delay is the container's to declare
    assert abs(offsets.mean()) < 0.03


def test_bad_sounds_are_refused(tmp_path: Path) -> None:
    cases = {"empty.wav": b"", "text.wav": b"not a sound", "clip.mp4": b"not a clip"}
    for name, content in cases.items():
        (tmp_path / name).write_bytes(content)
        with pytest.raises(ReadError, match=name.replace(".", r"\.")):
            read_sound(tmp_path / name)
    soundfile.write(tmp_path / "short.wav", np.zeros(100), RATE)
    soundfile.write(tmp_path / "coarse.wav", np.zeros(4000), 4000)
    for name, words in (
        ("short.wav", "nothing to hear"),
        ("coarse.wav", "8000 or more"),
        ("no.wav", "not there"),
    ):
        with pytest.raises(ReadError, match=words):
            read_sound(tmp_path / name)
    with pytest.raises(ReadError, match="folder"):
        read_sound(tmp_path)


@pytest.mark.parametrize(
    "options", [ListenOptions(5.0), ListenOptions(None, 0.3, 0.0), ListenOptions(None, -1.0)]
)
def test_settings_that_make_no_sense(options: ListenOptions) -> None:
    with pytest.raises(SettingsError):
        listen_to(Sound(np.zeros(RATE), RATE), options)
