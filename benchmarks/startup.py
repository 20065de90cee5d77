"""How long the commands take from process start to exit, as a ratio to `import numpy` in the same run.

A ratio travels between machines; the seconds stand beside it for this one.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from pacewright.simulate.sampling import record_trajectory
from pacewright.simulate.stroke_model import StrokeModel

ROUNDS = 7


def seconds(command: list[str]) -> float:
    """Time of one run of the command, in seconds."""
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - start


def write_recording(path: Path) -> None:
    """Eight strokes at 240 samples a second, as a trajectory file."""
    rng = np.random.default_rng(1)
    models = [StrokeModel(backswing_length_m=length) for length in rng.uniform(0.1, 0.35, 8)]
    head = record_trajectory(models, rng).recording.traces["head"]
    table = np.column_stack([head.time_s, head.values])
    np.savetxt(path, table, delimiter=",", fmt="%.6f", header="time_s,head_x_m,head_y_m", comments="")


def commands(recording: Path) -> dict[str, list[str]]:
    """What is measured, by name; the first is the yardstick."""
    pacewright = str(Path(sys.executable).parent / "pacewright")
    return {
        "python -c 'import numpy'": [sys.executable, "-c", "import numpy"],
        "pacewright --help": [pacewright, "--help"],
        "pacewright roll --json": [pacewright, "roll", "--length", "3m", "--green", "10ft", "--json"],
        "pacewright assess --json": [pacewright, "assess", str(recording), "--json"],
    }


def main() -> None:
    """Print the table: median of the rounds, taken in turn so that a busy moment meets all alike."""
    with tempfile.TemporaryDirectory() as folder:
        recording = Path(folder) / "strokes.csv"
        write_recording(recording)
        runs = commands(recording)
        for command in runs.values():
            seconds(command)
        times: dict[str, list[float]] = {name: [] for name in runs}
        for _ in range(ROUNDS):
            for name, command in runs.items():
                times[name].append(seconds(command))
    medians = {name: statistics.median(series) for name, series in times.items()}
    yardstick = next(iter(medians.values()))
    print(f"{'command':28} {'ratio':>6} {'seconds':>8}")
    for name, median in medians.items():
        print(f"{name:28} {median / yardstick:6.2f} {median:8.3f}")


if __name__ == "__main__":
    main()
