"""Run ``python -m validation.clips``: render, assess, compare, rewrite docs/validation-clips.md."""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

from validation.clips.build import build
from validation.clips.catalogue import catalogue


def main() -> int:
    """Render what is asked."""
    parser = argparse.ArgumentParser(prog="python -m validation.clips", description=__doc__)
    parser.add_argument("--only", default="", help="a group's or a clip's name, or a part of it")
    parser.add_argument("--into", type=Path, default=Path(tempfile.gettempdir()) / "pacewright-clips")
    parser.add_argument("--render", action="store_true", help="render only")
    chosen = parser.parse_args()
    chosen.into.mkdir(parents=True, exist_ok=True)
    for clip in catalogue():
        if chosen.only in clip.name or chosen.only in clip.group:
            start = time.perf_counter()
            path = build(clip, chosen.into)
            print(f"{path.name}: {time.perf_counter() - start:.0f} s", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
