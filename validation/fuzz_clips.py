"""Bad clips: seeds of every container and codec, mutated, each assessed in a process with limits.

Run `python -m validation.fuzz_clips`: it rewrites docs/validation-fuzz.md. A mutant must end in an
assessment, or in a PacewrightError with a message fit for a user. What counts as a failure: a process that
dies (a fault in a decoder, memory), one that takes too long, any other exception, a message that does not
name the file.
`--keep FOLDER` keeps the mutants that fail, by number; the same number always makes the same mutant.
"""

from __future__ import annotations

import argparse
import re
import struct
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import numpy as np

from pacewright.app.workers import Outcome, run_each

OUTPUT = Path(__file__).parents[1] / "docs" / "validation-fuzz.md"
MUTANTS = 2400
LIMIT_S = 20.0
MEMORY_BYTES = 3 << 30
SIZE_PX = (160, 120)
PICTURES = 40
_RATE_HZ = 60

SEEDS: dict[str, tuple[str, str, bool]] = {
    "h264.mp4": ("libx264", "mp4", True),
    "hevc.mp4": ("libx265", "mp4", False),
    "av1.mp4": ("libsvtav1", "mp4", False),
    "h264.mov": ("libx264", "mov", True),
    "mjpeg.mov": ("mjpeg", "mov", False),
    "vp9.webm": ("libvpx-vp9", "webm", False),
    "h264.mkv": ("libx264", "matroska", True),
    "mjpeg.mkv": ("mjpeg", "matroska", False),
}
"""File name: encoder, container, and whether it has sound."""

_OPTIONS: dict[str, dict[str, str]] = {
    "libx264": {"preset": "ultrafast", "g": "10"},
    "libx265": {"preset": "ultrafast", "x265-params": "log-level=none:pools=1:keyint=10"},
    "libsvtav1": {"preset": "12", "svtav1-params": "lp=1"},
    "libvpx-vp9": {"deadline": "realtime", "cpu-used": "8"},
}
_INDEX_NAMES = (
    b"stts", b"stsz", b"stco", b"stsc", b"ctts", b"stss", b"elst", b"mvhd", b"tkhd", b"mdhd", b"stsd",
    b"avcC", b"hvcC", b"av1C", b"hdlr", b"moov", b"trak",
)  # fmt: skip
_EXTREMES = (0, 1, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF, 0xFFFFFFFE, 0x10000)
_ODD_WORDS = re.compile(r"Traceback|0x[0-9a-f]{6}|<[\w.]+ object|\bNone\b|\bnan\b|\[Errno")


@dataclass(frozen=True)
class Mutant:
    """A mutated file: its number, the seed it was made of, and how."""

    number: int
    seed: str
    how: str
    body: bytes


def write_seed(path: Path, codec: str, form: str, has_sound: bool) -> None:
    """A small putt from above: a ball at rest, a bar that goes back and through, the ball gone."""
    rng = np.random.default_rng(0)
    ground = rng.normal(90, 12, (SIZE_PX[1], SIZE_PX[0], 3))
    with av.open(str(path), "w", format=form) as container:
        video = container.add_stream(codec, rate=_RATE_HZ, options=_OPTIONS.get(codec, {}))
        video.width, video.height = SIZE_PX
        video.pix_fmt = "yuvj420p" if codec == "mjpeg" else "yuv420p"
        sound = container.add_stream("aac", rate=48000, layout="mono") if has_sound else None
        for k in range(PICTURES):
            frame = av.VideoFrame.from_ndarray(_picture(ground, k), format="rgb24")
            container.mux(video.encode(frame))
        container.mux(video.encode())
        if sound is not None:
            for start in range(0, 48000 * PICTURES // _RATE_HZ, 1024):
                piece = rng.normal(0, 0.02, (1, 1024)).astype(np.float32)
                heard = av.AudioFrame.from_ndarray(piece, format="fltp", layout="mono")
                heard.sample_rate, heard.pts, heard.time_base = 48000, start, Fraction(1, 48000)
                container.mux(sound.encode(heard))
            container.mux(sound.encode())


def _picture(ground: np.ndarray, k: int) -> np.ndarray:
    y, x = np.mgrid[: SIZE_PX[1], : SIZE_PX[0]]
    picture = ground.copy()
    contact = 28
    ball_x = 80.0 + max(k - contact, 0) * 9.0
    picture[np.hypot(x - ball_x, y - 60) < 7.5] = 235
    head_x = 68.0 - 30.0 * np.sin(np.pi * min(k, contact) / contact) + max(k - contact, 0) * 4.0
    picture[(abs(x - head_x) < 4) & (abs(y - 60) < 18)] = 30
    return np.clip(picture, 0, 255).astype(np.uint8)


def mutants(seeds: dict[str, bytes], count: int, first: int = 0) -> Iterator[Mutant]:
    """Mutants by number; a number alone decides what it is."""
    names, ways = list(seeds), list(_WAYS)
    for number in range(first, first + count):
        rng = np.random.default_rng([20261, number])
        seed, how = names[number % len(names)], ways[(number + number // len(names)) % len(ways)]
        body = bytearray(seeds[seed])
        for _ in range(int(rng.integers(1, 3))):
            body = _WAYS[how](body, rng)
        yield Mutant(number, seed, how, bytes(body))


def _truncated(body: bytearray, rng: np.random.Generator) -> bytearray:
    return body[: int(rng.integers(0, len(body)))]


def _bits_flipped(body: bytearray, rng: np.random.Generator) -> bytearray:
    for at in rng.integers(0, len(body), int(2 ** rng.uniform(0, 9))) if body else ():
        body[at] ^= 1 << int(rng.integers(0, 8))
    return body


def _cut_out(body: bytearray, rng: np.random.Generator) -> bytearray:
    low, high = sorted(int(at) for at in rng.integers(0, len(body) + 1, 2))
    return body[:low] + body[min(high, low + len(body) // 3) :]


def _repeated(body: bytearray, rng: np.random.Generator) -> bytearray:
    low, high = sorted(int(at) for at in rng.integers(0, len(body) + 1, 2))
    return body[:high] + body[low:high] + body[high:]


def _blanked(body: bytearray, rng: np.random.Generator) -> bytearray:
    if body:
        low = int(rng.integers(0, len(body)))
        size = int(rng.integers(1, max(len(body) // 4, 2)))
        body[low : low + size] = bytes([int(rng.choice([0, 255]))]) * len(body[low : low + size])
    return body


def _header_changed(body: bytearray, rng: np.random.Generator) -> bytearray:
    """Words of four bytes at either end of the file become extreme."""
    for _ in range(int(rng.integers(1, 6))):
        if len(body) < 8:
            break
        reach = min(1500, len(body) - 4)
        at = int(rng.integers(0, reach))
        at = at if rng.random() < 0.5 else len(body) - 4 - at
        body[at : at + 4] = struct.pack(">I", int(rng.choice(_EXTREMES)))
    return body


def _index_changed(body: bytearray, rng: np.random.Generator) -> bytearray:
    """A word near the name of a table of the index; in Matroska, near the start."""
    names = [name for name in _INDEX_NAMES if body.find(name) >= 0]
    if not names:
        return _header_changed(body, rng)
    for _ in range(int(rng.integers(1, 4))):
        at = body.find(names[int(rng.integers(0, len(names)))]) + int(rng.integers(-4, 60))
        at = min(max(at, 0), max(len(body) - 4, 0))
        value = int(rng.choice(_EXTREMES)) if rng.random() < 0.6 else int(rng.integers(0, 1 << 32))
        body[at : at + 4] = struct.pack(">I", value)
    return body


def _shuffled(body: bytearray, rng: np.random.Generator) -> bytearray:
    """Two stretches change places."""
    a, b, c = sorted(int(at) for at in rng.integers(0, len(body) + 1, 3))
    return body[:a] + body[b:c] + body[a:b] + body[c:]


_WAYS: dict[str, Callable[[bytearray, np.random.Generator], bytearray]] = {
    "truncated": _truncated,
    "bits flipped": _bits_flipped,
    "a stretch cut out": _cut_out,
    "a stretch repeated": _repeated,
    "a stretch blanked": _blanked,
    "header fields extreme": _header_changed,
    "index changed": _index_changed,
    "stretches change places": _shuffled,
}


def assess_mutant(task: tuple[str, str, bytes]) -> tuple[str, str]:
    """What assessing a mutant gives: (``assessed``, strokes) or (``refused``, message); in a worker.

    Its pictures and its sound are read too, as for a film of it.
    """
    folder, name, body = task
    from pacewright.app.assessment import assess
    from pacewright.core.errors import PacewrightError
    from pacewright.tracking.pictures import sound_between, upright_rgb_frames

    path = Path(folder) / name
    path.write_bytes(body)
    try:
        try:
            sound_between(path, 0.1, 0.5)
            for _ in upright_rgb_frames(path, 2, 20, only=(2, 10, 20)):
                pass
        except PacewrightError:
            pass  # the assessment is to say what is wrong
        (assessment,) = assess([path])
        return "assessed", str(len(assessment.strokes))
    except PacewrightError as error:
        return "refused", str(error)
    finally:
        path.unlink(missing_ok=True)


def verdict(outcome: Outcome, name: str) -> tuple[str, str]:
    """One word for the table, and what there is to say of a failure (empty for none)."""
    if outcome.kind == "raised":
        return "other exception", str(outcome.value)
    if outcome.kind == "died":
        return "crash", str(outcome.value)
    if outcome.kind == "late":
        return "hang", str(outcome.value)
    word, said = outcome.value
    if word == "assessed":
        return ("stroke found" if int(said) else "no stroke, said so"), ""
    clear = name in said and 20 < len(said) < 500 and said.rstrip().endswith((".", "?"))
    return ("refused", "") if clear and not _ODD_WORDS.search(said) else ("unclear message", said)


def run(
    count: int, *, first: int = 0, workers: int = 1, keep: Path | None = None
) -> list[tuple[Mutant, str, str]]:
    """Every mutant with its verdict and what there is to say of a failure."""
    with tempfile.TemporaryDirectory() as folder:
        seeds = {}
        for name, (codec, form, has_sound) in SEEDS.items():
            write_seed(Path(folder) / name, codec, form, has_sound)
            seeds[name] = (Path(folder) / name).read_bytes()
        made = list(mutants(seeds, count, first))
        tasks = [(folder, f"{m.number:05d}-{m.seed}", m.body) for m in made]
        found = []
        outcomes = run_each(assess_mutant, tasks, workers=workers, limit_s=LIMIT_S, memory_bytes=MEMORY_BYTES)
        for done, (k, outcome) in enumerate(outcomes, 1):
            word, said = verdict(outcome, tasks[k][1])
            found.append((made[k], word, said))
            if said and keep is not None:
                keep.mkdir(parents=True, exist_ok=True)
                (keep / tasks[k][1]).write_bytes(made[k].body)
            if done % 100 == 0:
                print(f"{done} of {count} …", flush=True)
    return sorted(found, key=lambda row: row[0].number)


def failures(found: list[tuple[Mutant, str, str]]) -> list[str]:
    """One line for each mutant that failed."""
    return [f"{m.number} ({m.seed}, {m.how}): {word}: {said}" for m, word, said in found if said]


_VERDICTS = (
    "stroke found", "no stroke, said so", "refused", "unclear message", "other exception", "hang", "crash",
)  # fmt: skip


def page(found: list[tuple[Mutant, str, str]]) -> str:
    """The page of docs."""
    lines = [
        "# Validation: bad clips",
        "",
        f"Made by `python -m validation.fuzz_clips` (seeded): {len(found):,} mutated clips.",
        f"Each is assessed, and its pictures and sound are read as for a film, within {LIMIT_S:g} s and",
        f"{MEMORY_BYTES >> 30} GB of address space. Every one must end in an assessment, or in a message",
        "that names the file and is fit for a user; what stands in the last four columns is a failure.",
    ]
    for title, of in (("By seed", lambda m: m.seed), ("By mutation", lambda m: m.how)):
        counts = Counter((of(m), word) for m, word, _ in found)
        lines += [
            "",
            f"## {title}",
            "",
            f"| | {' | '.join(_VERDICTS)} |",
            "|---" * (len(_VERDICTS) + 1) + "|",
        ]
        for row in dict.fromkeys(of(m) for m, _, _ in found):
            lines.append(f"| {row} | {' | '.join(str(counts[row, word]) for word in _VERDICTS)} |")
        totals = Counter(word for _, word, _ in found)
        lines.append(f"| all | {' | '.join(str(totals[word]) for word in _VERDICTS)} |")
    failed = failures(found)
    if failed:
        lines += ["", "## Failures", "", *(f"- {line}" for line in failed)]
    return "\n".join(lines) + "\n"


def main(arguments: list[str] | None = None) -> int:
    """Run all mutants and rewrite the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=MUTANTS)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--keep", type=Path)
    said = parser.parse_args(arguments)
    found = run(said.count, first=said.first, workers=said.workers, keep=said.keep)
    for line in failures(found):
        print(line)
    if said.count >= MUTANTS:
        OUTPUT.write_text(page(found), encoding="utf-8")
        print(f"written: {OUTPUT.name}")
    return 1 if failures(found) else 0


if __name__ == "__main__":
    sys.exit(main())
