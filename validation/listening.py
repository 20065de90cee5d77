"""Contacts by ear against known truth: rewrites docs/validation-listening.md."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from pacewright.app.listening import Contact, listen_to
from pacewright.app.sound_files import Sound
from pacewright.render.beats import BeatPlan, click_track
from validation.listening_sounds import CONTACTS, coloured, contact, dropped_club, footstep, talk, wind

OUTPUT = Path(__file__).parent.parent / "docs" / "validation-listening.md"
STROKES = 25
BEAT_BPM = 90.0
NEAR_S = 0.008
NOISE_RMS = 0.02
NOISES = {
    "white": lambda n, _, rng: rng.standard_normal(n),
    "pink": lambda n, rate, rng: coloured(n, rate, rng, 1.0),
    "wind": wind,
    "one voice": talk,
    "four voices": lambda n, rate, rng: talk(n, rate, rng, 4),
}


@dataclass
class Tally:
    """What was found of what there was."""

    putts: int = 0
    found: int = 0
    false_alarms: int = 0
    beats_counted: int = 0
    wrong_in_stroke: int = 0
    errors_s: list[float] = field(default_factory=list)
    beat_errors_s: list[float] = field(default_factory=list)


def scene(
    rate: int, noise: str, level_db: float, bait: str, rng: np.random.Generator
) -> tuple[np.ndarray, ...]:
    """Our clicks, noise, contacts ``level_db`` over it, bait: sound, contacts, beats, wanted lateness."""
    track = click_track(BeatPlan(BEAT_BPM, repeats=STROKES, rate_hz=rate, level_db=-10.0))
    count = track.samples.size
    sound = track.samples + NOISE_RMS * NOISES[noise](count, rate, rng)
    times, wanted = [], []
    half_beat = 30.0 / BEAT_BPM
    for onset, role in zip(track.onset_indices, track.roles, strict=True):
        if role == "back":
            late = rng.normal(0.0, 0.03)
            start = round(onset + (half_beat + late) * rate)
            burst = NOISE_RMS * 10.0 ** (level_db / 20.0) * contact(CONTACTS[len(times) % 4], rate, rng)
            sound[start : start + burst.size] += burst
            times.append(start / rate)
            wanted.append(start / rate - onset / rate - half_beat)
        if role == "through" and bait:
            # Right after the stroke, and over well before the next.
            made = (footstep if bait == "footsteps" else dropped_club)(rate, rng)
            start = onset + int(rng.uniform(0.8, 1.2) * rate)
            room = sound[start : start + made.size]
            room += rng.uniform(0.05, 0.2) * made[: room.size]
    return sound, np.array(times), track.onset_indices / rate, np.array(wanted)


def judge(tally: Tally, rate: int, noise: str, level_db: float, bait: str, seed: int) -> None:
    """Listen to one scene and count."""
    sound, times, beats, wanted = scene(rate, noise, level_db, bait, np.random.default_rng(seed))
    heard = listen_to(Sound(sound, float(rate)))
    found = np.array([one.time_s for one in heard.contacts])
    tally.putts += times.size
    used: set[int] = set()
    for time, late in zip(times, wanted, strict=True):
        near = int(np.argmin(np.abs(found - time))) if found.size else -1
        if near >= 0 and abs(found[near] - time) < NEAR_S:
            used.add(near)
            tally.found += 1
            tally.errors_s.append(found[near] - time)
            if (error := heard.contacts[near].beat_error_s) is not None:
                tally.beat_errors_s.append(error - late)
    tally.wrong_in_stroke += sum(
        _is_wrong(heard.contacts, time, late) for time, late in zip(times, wanted, strict=True)
    )
    for k in set(range(found.size)) - used:
        tally.false_alarms += 1
        tally.beats_counted += bool(np.min(np.abs(beats - found[k])) < 0.02)


def _is_wrong(contacts: Sequence[Contact], time_s: float, late_s: float) -> bool:
    """Whether the strongest sound near the stroke (as the page looks for it) is not the contact."""
    half_beat = 30.0 / BEAT_BPM
    back = time_s - late_s - half_beat
    window = [one for one in contacts if back < one.time_s < back + 3.0 * half_beat]
    strongest = max(window, key=lambda one: one.strength_db, default=None)
    return strongest is not None and abs(strongest.time_s - time_s) >= NEAR_S


def row(name: str, tally: Tally) -> str:
    """One line of the table."""

    def rms_ms(errors: list[float]) -> str:
        values = np.array(errors)
        return f"{1000 * np.std(values):.2f}" if values.size else "–"

    return (
        f"| {name} | {tally.putts} | {tally.found} | {tally.false_alarms} | {tally.beats_counted} "
        f"| {tally.wrong_in_stroke} "
        f"| {1e3 * np.mean(tally.errors_s):+.2f} | {rms_ms(tally.errors_s)} | {rms_ms(tally.beat_errors_s)} |"
    )


HEAD = [
    "| noise | putts | found | false alarms | of them within 20 ms of a beat | wrong in a stroke "
    "| mean error, ms | rms about it, ms | rms of `beat_error_s`, ms |",
    "|---|---|---|---|---|---|---|---|---|",
]


def table(level_db: float, bait: str = "", noises: tuple[str, ...] = tuple(NOISES)) -> list[str]:
    """Each noise at both rates."""
    rows = list(HEAD)
    for k, noise in enumerate(noises):
        for rate in (44100, 48000):
            print(f"{noise}, {level_db:g} dB, {bait}, {rate} Hz …", flush=True)
            tally = Tally()
            judge(tally, rate, noise, level_db, bait, seed=9000 + 10 * k + rate // 48000)
            rows.append(row(f"{noise}, {rate / 1000:g} kHz", tally))
    return rows


def main() -> int:
    """Run everything and rewrite the page."""
    lines = [
        "# Validation: contacts by ear",
        "",
        "Made by `python -m validation.listening` (seeded). Everything is invented"
        " (`validation/listening_sounds.py`): no",
        "spectrum of a putter's contact is published that we know of, so contacts are of four kinds (a"
        " handful of modes, a burst of",
        "noise, a half sine with a ring, one mode) drawn over wide ranges. Our own click track sounds at 90"
        " beats a minute, and",
        "`listen` is told nothing of it. Level: RMS of the contact's first 5 ms over RMS of the noise, full"
        " band. A contact counts as",
        "found within 8 ms. *Wrong in a stroke*: the strongest sound from the back beat to half a beat past"
        " the through beat, which",
        "is what the practice page takes, is not the contact. The page's detector equals this one on the same"
        " samples (a test). The",
        "voices talk without end; their plosives begin from silence, which is the hardest case.",
        "",
        "## 10 dB over the noise",
        "",
        *table(10.0),
        "",
        "## Footsteps and dropped clubs in every rest, 16 dB over the noise",
        "",
        "A dropped club is up to ten times as loud as the contact that follows it three seconds later.",
        "",
        "### Footsteps",
        "",
        *table(16.0, "footsteps", ("white", "wind")),
        "",
        "### Dropped clubs",
        "",
        *table(16.0, "dropped clubs", ("white", "wind")),
    ]
    OUTPUT.write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(f"written: {OUTPUT.name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
