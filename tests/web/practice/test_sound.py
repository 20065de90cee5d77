"""The page's ear and its beat in a real browser, against the Python that they must equal."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from pacewright.app.practice_page import practice_file
from pacewright.core.plan import PracticePlan
from pacewright.render.beats import PITCH_HZ, BeatPlan, click_track
from pacewright.signals.clicks import ClickDetector, KnownBeat
from tests.web.practice.conftest import KNOCK_EVERY_S
from tests.web.practice.serving import Desk
from validation.listening_sounds import CONTACTS, contact, talk, wind

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

pytestmark = pytest.mark.browser
ROLES = list(PITCH_HZ)


@pytest.fixture(scope="module")
def ear(browser: Browser, site: Desk) -> Iterator[Page]:
    """One page for all that only asks its modules."""
    page = browser.new_page()
    page.goto(site.url)
    page.wait_for_selector("html[data-ready]")
    yield page
    page.close()


def stroke_sound(
    rate: int, noise: str, repeats: int, seed: int, level_db: float = 12.0
) -> tuple[np.ndarray, list[float], list[KnownBeat]]:
    """Own beats, noise, and a contact in every stroke, ``level_db`` over the noise."""
    rng = np.random.default_rng(seed)
    track = click_track(BeatPlan(90.0, repeats=repeats, rest_beats=3, rate_hz=rate, level_db=-12.0))
    count = track.samples.size
    made = {"wind": wind, "talk": talk}.get(noise, lambda n, _, r: r.standard_normal(n))(count, rate, rng)
    sound = track.samples + 0.01 * made
    times = []
    for k, (onset, role) in enumerate(zip(track.onset_indices, track.roles, strict=True)):
        if role == "back":
            start = int(onset + (1 / 3 + rng.normal(0, 0.03)) * rate)
            burst = 0.01 * 10 ** (level_db / 20) * contact(CONTACTS[k % 4], rate, rng)
            sound[start : start + burst.size] += burst
            times.append(start / rate)
    beats = [
        KnownBeat(onset / rate, ROLES.index(role))
        for onset, role in zip(track.onset_indices, track.roles, strict=True)
    ]
    return sound, times, beats


@pytest.mark.parametrize(("rate", "noise"), [(44100, "white"), (48000, "talk"), (48000, "wind")])
def test_the_page_hears_what_python_hears(ear: Page, rate: int, noise: str) -> None:
    sound, _, beats = stroke_sound(rate, noise, 4, seed=rate)
    given = encoded(sound, "<f8")
    found = ear.evaluate(
        """async ([given, rate, beats]) => {
            const { ClickDetector } = await import('./listen.js');
            const bytes = await (await fetch(given)).arrayBuffer();
            const samples = new Float64Array(bytes);
            return [true, false].map(remembers => {
                const detector = new ClickDetector(rate, beats, { remembers });
                const found = [];
                for (let at = 0; at < samples.length; at += 128) {
                    found.push(...detector.push(samples.subarray(at, at + 128)));
                }
                return [...found, ...detector.finish()];
            });
        }""".replace("'./listen.js'", "new URL('listen.js', location.href).href"),
        [given, rate, [{"time_s": beat.time_s, "tone": beat.tone} for beat in beats]],
    )
    for remembers, heard in zip((True, False), found, strict=True):
        detector = ClickDetector(rate, beats, remembers=remembers)
        ours = detector.push(sound) + detector.finish()
        assert len(ours) >= 4
        assert [one["time_s"] for one in heard] == pytest.approx([one.time_s for one in ours], abs=1e-9)
        assert [one["sd_s"] for one in heard] == pytest.approx([one.sd_s for one in ours], abs=1e-9)
        assert [one["strength_db"] for one in heard] == pytest.approx([one.strength_db for one in ours])


# Beats are handed over ten seconds at a time, as the page itself does it a little ahead: all at once would
# make the browser look at every beat of ten minutes for every 128 samples.
RENDERED = """async ([seconds, rate, bpm, changeAt, changed]) => {
    const { BeatPlayer } = await import(new URL('beat.js', location.href).href);
    const context = new OfflineAudioContext(1, seconds * rate, rate);
    const handed = [];
    const player = new BeatPlayer(context, { onBeat: beat => handed.push(beat.time_s) });
    player.start({ beatsPerMinute: bpm, countInBeats: 3, rest: 3, delayS: 0 });
    if (changeAt) { player.look(changeAt); player.change(changed); }
    for (let at = 10; at < seconds; at += 10) {
        context.suspend(at).then(() => { player.look(Math.min(at + 10.5, seconds)); context.resume(); });
    }
    player.look(Math.min(10.5, seconds));
    const samples = (await context.startRendering()).getChannelData(0);
    player.finishAfter();
    const onsets = [];
    for (let n = 0, quiet = 1e9; n < samples.length; n += 1) {
        if (samples[n] !== 0) { if (quiet > 0.05 * rate) onsets.push(n); quiet = 0; } else quiet += 1;
    }
    return { onsets, handed };
}"""


@pytest.mark.parametrize(("rate", "seconds"), [(48000, 600), (44100, 60)])
def test_beats_fall_on_their_samples_for_ten_minutes(ear: Page, rate: int, seconds: int) -> None:
    rendered = ear.evaluate(RENDERED, [seconds, rate, 92.1, 0, 0])
    expected = click_track(BeatPlan(92.1, repeats=160, rest_beats=3, rate_hz=rate)).onset_indices
    onsets = np.array(rendered["onsets"])
    assert onsets.size >= int(seconds * 92.1 / 60)
    assert np.abs(onsets - expected[: onsets.size]).max() == 0


def test_a_change_of_beat_keeps_its_phase(ear: Page) -> None:
    """The beat that was due stays; from it on the new interval counts."""
    onsets = np.array(ear.evaluate(RENDERED, [12, 48000, 90, 5.0, 75])["onsets"])
    steps = np.diff(onsets)
    turn = int(np.flatnonzero(steps == 38400)[0])
    assert (steps[:turn] == 32000).all()
    assert (steps[turn:] == 38400).all()


def test_the_tones_are_those_of_the_click_track(ear: Page) -> None:
    for role in ROLES:
        played = np.array(
            ear.evaluate(
                """async role => Array.from((await import(new URL('beat.js', location.href).href))
                    .toneSamples(role, 48000))""",
                role,
            )
        )
        track = click_track(
            BeatPlan(60.0, repeats=1, rest_beats=1, count_in_beats=1, level_db=20 * np.log10(0.7))
        )
        at = track.onset_indices[track.roles.index(role)]
        assert played == pytest.approx(track.samples[at : at + 2880], abs=1e-6)


def encoded(sound: np.ndarray, kind: str) -> str:
    packed = base64.b64encode(sound.astype(kind).tobytes()).decode()
    return f"data:application/octet-stream;base64,{packed}"


# The page's own listener and worklet on an offline context: the sound comes from a buffer in place of the
# microphone's stream, so no sample is lost however busy the machine is. Each tenth of a second the rendering
# stands still, and the beats of the next quarter are announced, as the page does when it hands them over.
LISTENED = """async ([given, rate, beats, remembers]) => {
    const { Listener } = await import(new URL('listen.js', location.href).href);
    const samples = new Float32Array(await (await fetch(given)).arrayBuffer());
    const context = new OfflineAudioContext(1, samples.length, rate);
    const source = context.createBufferSource();
    source.buffer = context.createBuffer(1, samples.length, rate);
    source.buffer.copyToChannel(samples, 0);
    context.createMediaStreamSource = () => source;
    navigator.mediaDevices.getUserMedia = async () => ({ getTracks: () => [] });
    const listener = new Listener(context, 'listen-worklet.js');
    const clicks = [];
    listener.onClick = click => clicks.push(click);
    await listener.open({ remembers });
    source.start(0);
    const settled = () => new Promise(resolve => setTimeout(resolve, 4));
    for (let at = 0.1; at < samples.length / rate; at += 0.1) {
        context.suspend(at).then(async () => {
            while (beats.length && beats[0].time_s < at + 0.25) listener.announce(beats.shift());
            await settled();
            context.resume();
        });
    }
    await context.startRendering();
    await settled();
    return { clicks, gaps: listener.gaps, delay: listener.delay() };
}"""
DELAY_S = 0.15


@pytest.mark.parametrize("rate", [44100, 48000])
@pytest.mark.parametrize("noise", ["wind", "talk"])
def test_contacts_come_through_the_worklet_and_own_beats_do_not(ear: Page, rate: int, noise: str) -> None:
    """10 dB over the noise; every beat comes back ``DELAY_S`` after the page handed it over."""
    sound, times, beats = stroke_sound(rate, noise, 5, seed=7, level_db=10.0)
    handed = [{"time_s": beat.time_s, "role": ROLES[beat.tone]} for beat in beats]
    silence = np.zeros(int(DELAY_S * rate))
    heard = ear.evaluate(LISTENED, [encoded(np.concatenate([silence, sound]), "<f4"), rate, handed, True])
    assert heard["gaps"] == 0
    assert heard["delay"]["value"] == pytest.approx(DELAY_S, abs=3e-4)
    found = np.array([click["time_s"] for click in heard["clicks"]]) - heard["delay"]["value"]
    errors = found[np.abs(found[None, :] - np.array(times)[:, None]).argmin(axis=1)] - np.array(times)
    assert np.abs(errors).max() < 8e-3
    assert np.sqrt(np.mean(errors**2)) < 2e-3
    # Until the delay is known, by the first beats, they may be heard as clicks; afterwards none is.
    own = np.array([beat.time_s for beat in beats[6:]])
    assert np.abs(found[:, None] - own[None, :]).min() > 0.015


def test_a_minute_of_claps_says_the_delay(ear: Page) -> None:
    """With earphones: claps 20 ms about the beat, in wind; none of the beats comes back."""
    rate, step = 44100, 60.0 / 90.0
    rng = np.random.default_rng(8)
    sound = 0.01 * wind(60 * rate, rate, rng)
    beats = [1.0 + step * k for k in range(85)]
    for beat in beats:
        start = int((beat + DELAY_S + rng.normal(0.0, 0.02)) * rate)
        burst = 0.1 * contact("noise burst", rate, rng)
        sound[start : start + burst.size] += burst
    heard = ear.evaluate(LISTENED, [encoded(sound, "<f4"), rate, [], False])
    claps = [click["time_s"] for click in heard["clicks"]]
    said = ear.evaluate(
        """async ([claps, beats, step]) => {
            const { clapDelays, middleOf } = await import(new URL('listen.js', location.href).href);
            return middleOf(clapDelays(claps, beats, step));
        }""",
        [claps, beats, step],
    )
    assert said["count"] >= 80
    assert said["value"] == pytest.approx(DELAY_S, abs=3 * said["sd"])
    assert said["sd"] < 5e-3


# Through the browser's microphone itself. Its make-believe device drops buffers on a busy machine, so this
# says that knocks come through as they are, and the test above says when and which.
MICROPHONE = """async wanted => {
    const { Listener } = await import(new URL('listen.js', location.href).href);
    const context = new AudioContext();
    await context.resume();
    const listener = new Listener(context, 'listen-worklet.js');
    const times = [];
    const heard = new Promise(resolve => {
        listener.onClick = click => { times.push(click.time_s); if (times.length === wanted) resolve(); };
    });
    await listener.open({ remembers: false });
    const settings = listener.stream.getAudioTracks()[0].getSettings();
    await Promise.race([heard, new Promise(resolve => setTimeout(resolve, 20000))]);
    listener.close();
    await context.close();
    return { times, settings };
}"""


def test_the_microphone_comes_as_it_is(phone: BrowserContext, site: Desk) -> None:
    page = phone.new_page()
    page.goto(site.url)
    page.wait_for_selector("html[data-ready]")
    heard: dict[str, Any] = page.evaluate(MICROPHONE, 3)
    for name in ("echoCancellation", "noiseSuppression", "autoGainControl"):
        assert heard["settings"][name] is False
    assert len(heard["times"]) == 3
    # A dropped buffer brings the next knock nearer; nothing but a knock is heard.
    assert np.diff(heard["times"]).min() > 0.2 * KNOCK_EVERY_S


def test_the_one_file_listens_too(phone: BrowserContext, plan: PracticePlan, tmp_path: Path) -> None:
    path = tmp_path / "practice.html"
    path.write_bytes(practice_file(plan))
    page = phone.new_page()
    problems: list[str] = []
    page.on("pageerror", lambda error: problems.append(str(error)))
    page.goto(path.as_uri())
    page.get_by_role("button", name="Microphone").click()
    page.get_by_role("button", name="Switch on").click()
    page.get_by_role("button", name="Switch off").wait_for()
    assert page.locator("#mic-state").inner_text().startswith("The delay is not known yet")
    assert problems == []
