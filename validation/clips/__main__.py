"""Render the clips, let the tool measure them, compare with the truth: ``python -m validation.clips``.

A full run takes hours on two cores and rewrites docs/validation-clips.md. ``--at-hand`` does so for the clips
that are rendered already, which the page then says; a part of the clips (``--only``) is printed instead.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

from validation.clips.build import Clip
from validation.clips.catalogue import catalogue
from validation.clips.page import details, page, summary
from validation.clips.score import is_rendered, rendered, score

OUTPUT = Path(__file__).parents[2] / "docs" / "validation-clips.md"


def main() -> int:
    """Run what is asked."""
    parser = argparse.ArgumentParser(prog="python -m validation.clips", description=__doc__)
    parser.add_argument(
        "--only", default="", metavar="TEXT", help="clips whose name or group holds this text"
    )
    parser.add_argument("--workers", type=int, default=1, help="processes at once")
    parser.add_argument("--list", action="store_true", help="print the names and stop")
    parser.add_argument("--render", action="store_true", help="render into --into and stop")
    parser.add_argument("--at-hand", action="store_true", help="only clips that are rendered already")
    parser.add_argument("--into", type=Path, default=Path(tempfile.gettempdir()) / "pacewright-clips",
                        help="where rendered clips are kept")  # fmt: skip
    chosen = parser.parse_args()
    clips = [clip for clip in catalogue() if chosen.only in clip.name or chosen.only in clip.group]
    if chosen.list:
        print("\n".join(f"{clip.file_name:45} {clip.group}" for clip in clips))
        return 0
    chosen.into.mkdir(parents=True, exist_ok=True)
    if chosen.render:
        for clip in clips:
            _render(clip, chosen.into)
        return 0
    if chosen.at_hand:
        clips = [clip for clip in clips if is_rendered(clip, chosen.into)]
    results = []
    # Processes start anew: a fork after OpenCV was used can hang.
    with ProcessPoolExecutor(chosen.workers, mp_context=multiprocessing.get_context("spawn")) as pool:
        for result in pool.map(partial(score, folder=chosen.into), clips):
            print(
                f"{result.name}: {'found' if result.found else result.said} {result.beyond or ''}", flush=True
            )
            results.append(result)
    if chosen.only:
        groups = list(dict.fromkeys(result.group for result in results))
        print("\n".join([*summary(results, groups), "", *details(results)]))
    else:
        OUTPUT.write_text(page(results, of=len(catalogue())), encoding="utf-8")
        print(f"written: {OUTPUT.name}")
    return 0


def _render(clip: Clip, folder: Path) -> None:
    start = time.perf_counter()
    path = rendered(clip, folder)
    print(f"{path.name}: {time.perf_counter() - start:.0f} s", flush=True)


if __name__ == "__main__":
    sys.exit(main())
