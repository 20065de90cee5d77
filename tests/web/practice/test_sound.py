"""The page's ear and its beat in a real browser, against the Python that they must equal."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import soundfile

from pacewright.app.practice_page import practice_file
from pacewright.core.plan import PracticePlan
from pacewright.render.beats import PITCH_HZ, BeatPlan, click_track
from pacewright.signals.clicks import KnownBeat, find_clicks
from tests.web.practice.conftest import ARGUMENTS, CHROMIUM
from tests.web.practice.serving import Desk, serving
from validation.listening_sounds import CONTACTS, contact, talk, wind

if TYPE_CHECKING:
    from playwright.sync_api import Page, Playwright

pytestmark = pytest.mark.browser
ROLES = list(PITCH_HZ)


def stroke_sound(
    rate: int, noise: str, repeats: int, seed: int
) -> tuple[np.ndarray, list[float], list[KnownBeat]]:
    """Own beats, noise, and a contact in every stroke, 12 dB over the noise."""
    rng = np.random.default_rng(seed)
    track = click_track(BeatPlan(90.0, repeats=repeats, rest_beats=3, rate_hz=rate, level_db=-12.0))
    count = track.samples.size
    made = {"wind": wind, "talk": talk}.get(noise, lambda n, _, r: r.standard_normal(n))(count, rate, rng)
    sound = track.samples + 0.01 * made
    times = []
    for k, (onset, role) in enumerate(zip(track.onset_indices, track.roles, strict=True)):
        if role == "back":
            start = int(onset + (1 / 3 + rng.normal(0, 0.03)) * rate)
            burst = 0.04 * contact(CONTACTS[k % 4], rate, rng)
            sound[start : start + burst.size] += burst
            times.append(start / rate)
    beats = [
        KnownBeat(onset / rate, ROLES.index(role))
        for onset, role in zip(track.onset_indices, track.roles, strict=True)
    ]
    return sound, times, beats


@pytest.mark.parametrize(("rate", "noise"), [(44100, "white"), (48000, "talk"), (48000, "wind")])
def test_the_page_hears_what_python_hears(page: Page, rate: int, noise: str) -> None:
    sound, _, beats = stroke_sound(rate, noise, 4, seed=rate)
    given = base64.b64encode(sound.astype("<f8").tobytes()).decode()
    found = page.evaluate(
        """async ([given, rate, beats]) => {
            const { ClickDetector } = await import('./listen.js');
            const bytes = Uint8Array.from(atob(given), c => c.charCodeAt(0));
            const samples = new Float64Array(bytes.buffer);
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
        ours = find_clicks(sound, rate, beats, remembers=remembers)
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
def test_beats_fall_on_their_samples_for_ten_minutes(page: Page, rate: int, seconds: int) -> None:
    rendered = page.evaluate(RENDERED, [seconds, rate, 92.1, 0, 0])
    expected = click_track(BeatPlan(92.1, repeats=160, rest_beats=3, rate_hz=rate)).onset_indices
    onsets = np.array(rendered["onsets"])
    assert onsets.size >= int(seconds * 92.1 / 60)
    assert np.abs(onsets - expected[: onsets.size]).max() == 0


def test_a_change_of_beat_keeps_its_phase(page: Page) -> None:
    """The beat that was due stays; from it on the new interval counts."""
    onsets = np.array(page.evaluate(RENDERED, [12, 48000, 90, 5.0, 75])["onsets"])
    steps = np.diff(onsets)
    turn = int(np.flatnonzero(steps == 38400)[0])
    assert (steps[:turn] == 32000).all()
    assert (steps[turn:] == 38400).all()


def test_the_tones_are_those_of_the_click_track(page: Page) -> None:
    for role in ROLES:
        played = np.array(
            page.evaluate(
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


@pytest.fixture(scope="module")
def microphone(
    tmp_path_factory: pytest.TempPathFactory, plan: PracticePlan, driver: Playwright
) -> Iterator[tuple[Page, Desk, list[float], list[KnownBeat]]]:
    """Chromium with strokes under beats and wind played into its microphone."""
    sound, times, beats = stroke_sound(48000, "wind", 5, seed=7)
    path = tmp_path_factory.mktemp("microphone") / "strokes.wav"
    soundfile.write(path, np.concatenate([np.zeros(48000), sound]), 48000, subtype="PCM_16")
    flags = [
        "--use-fake-ui-for-media-stream",
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-audio-capture={path}%noloop",
    ]
    with serving(plan) as desk:
        browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS + flags)
        context = browser.new_context(permissions=["microphone"])
        page = context.new_page()
        page.goto(desk.url)
        page.wait_for_selector("html[data-ready]")
        yield page, desk, times, beats
        browser.close()


LISTEN = """async ([seconds, beats]) => {
    const { Listener } = await import(new URL('listen.js', location.href).href);
    const context = new AudioContext();
    await context.resume();
    const listener = new Listener(context, 'listen-worklet.js');
    const clicks = [];
    listener.onClick = click => clicks.push(click);
    await listener.open();
    const settings = listener.stream.getAudioTracks()[0].getSettings();
    const opened = context.currentTime;
    // Beats at the times at which they would have been handed to a loudspeaker, a little before they come in.
    const announced = setInterval(() => {
        const now = context.currentTime;
        while (beats.length && opened + 1 + beats[0].time_s - 0.15 < now + 0.1) {
            const beat = beats.shift();
            listener.announce({ role: beat.role, time_s: opened + 1 + beat.time_s - 0.15 });
        }
    }, 20);
    await new Promise(resolve => setTimeout(resolve, seconds * 1000));
    clearInterval(announced);
    const heard = { clicks, gaps: listener.gaps, delay: listener.delay(), settings };
    listener.close();
    return heard;
}"""


def matched(found: np.ndarray, times: np.ndarray) -> np.ndarray:
    """Delay of the click that belongs to each contact, nan where there is none; the start is not known."""
    best = np.full(times.size, np.nan)
    for shift in (found[:, None] - times[None, :]).ravel():
        delays = found[None, :] - times[:, None]
        near = np.abs(delays - shift)
        one = np.where(near.min(axis=1) < 0.03, delays[np.arange(times.size), near.argmin(axis=1)], np.nan)
        if np.isfinite(one).sum() > np.isfinite(best).sum():
            best = one
    return best


def test_contacts_come_through_the_microphone_and_own_beats_do_not(
    microphone: tuple[Page, Desk, list[float], list[KnownBeat]],
) -> None:
    """The browser's make-believe device slips by a buffer (10 ms) now and then; slips are taken out."""
    page, _, times, beats = microphone
    given = [{"time_s": beat.time_s, "role": ROLES[beat.tone]} for beat in beats]
    for _ in range(3):
        heard: dict[str, Any] = page.evaluate(LISTEN, [times[-1] + 2.0, given])
        found = np.array([click["time_s"] for click in heard["clicks"]])
        delays = matched(found, np.array(times))
        slips = np.round(np.diff(delays) / 0.01)
        if heard["gaps"] == 0 and np.isfinite(delays).all() and np.count_nonzero(slips) <= 1:
            break
    for name in ("echoCancellation", "noiseSuppression", "autoGainControl"):
        assert heard["settings"][name] is False
    assert heard["delay"] is not None
    assert np.isfinite(delays).all()
    delays[1:] -= 0.01 * np.cumsum(slips)
    assert np.std(delays) < 2e-3
    # Until the delay is known, by the first beats, they may be heard as clicks; afterwards none is.
    own = np.array([beat.time_s for beat in beats[6:]]) + np.median(delays)
    assert np.abs(found[:, None] - own[None, :]).min() > 0.015


def test_the_one_file_listens_too(
    microphone: tuple[Page, Desk, list[float], list[KnownBeat]], plan: PracticePlan, tmp_path: Path
) -> None:
    path = tmp_path / "practice.html"
    path.write_bytes(practice_file(plan))
    page = microphone[0].context.browser.new_page()  # type: ignore[union-attr]
    problems: list[str] = []
    page.on("pageerror", lambda error: problems.append(str(error)))
    page.goto(path.as_uri())
    page.get_by_role("button", name="Microphone").click()
    page.get_by_role("button", name="Switch on").click()
    page.get_by_role("button", name="Switch off").wait_for()
    assert page.locator("#mic-state").inner_text().startswith("The delay is not known yet")
    assert problems == []
    page.close()
