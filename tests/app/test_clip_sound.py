"""The click of contact on the sound track against the contact that was seen."""

from __future__ import annotations

import numpy as np
import pytest

from pacewright.app import clip_sound
from pacewright.app.sound_files import Sound
from pacewright.core.errors import ReadError
from pacewright.core.measure import Measure
from pacewright.core.stroke import Stroke

RATE_HZ = 48000.0


def stroke(contact_s: float) -> Stroke:
    return Stroke("putt", {"impact": Measure(contact_s, 1e-4)}, {})


def sound_with_clicks(*times_s: float) -> Sound:
    rng = np.random.default_rng(2)
    samples = rng.normal(0, 0.002, int(6 * RATE_HZ))
    decay = np.exp(-np.arange(int(0.004 * RATE_HZ)) / (0.0008 * RATE_HZ))
    for time_s in times_s:
        start = round(time_s * RATE_HZ)
        samples[start : start + decay.size] += 0.4 * decay * rng.normal(0, 1, decay.size)
    return Sound(samples, RATE_HZ)


def test_offset_of_sound_and_picture_is_measured(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clip_sound, "read_sound", lambda _: sound_with_clicks(2.038, 4.038))
    remark = clip_sound.sound_remark("clip.mp4", [stroke(2.0), stroke(4.0)])
    assert remark is not None
    offset_ms = float(remark.text.split("heard ")[1].split(" ms")[0])
    assert offset_ms == pytest.approx(38.0, abs=0.5)
    assert "after contact is seen (2 putts" in remark.text


def test_nothing_is_said_without_a_click_or_without_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clip_sound, "read_sound", lambda _: sound_with_clicks())
    assert clip_sound.sound_remark("clip.mp4", [stroke(2.0)]) is None

    def refuse(_: object) -> Sound:
        raise ReadError("clip.mp4 has no sound.")

    monkeypatch.setattr(clip_sound, "read_sound", refuse)
    assert clip_sound.sound_remark("clip.mp4", [stroke(2.0)]) is None
