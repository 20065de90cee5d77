"""A million rows of four columns, read against NumPy's own reader: `python -m benchmarks.reading`.

NumPy's `loadtxt` reads the same file to bare numbers; ours also finds the layout, hashes the file, checks
units, clock and gaps, and makes the traces. Printed are the ratio of the two times on one machine in one
run, and the memory of the process.
"""

from __future__ import annotations

import resource
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from pacewright.readers import read

ROWS = 1_000_000
REPEATS = 3
HEADER = "time_s,head_x_m,head_y_m,head_z_m"


def write(path: Path) -> None:
    """The file: 2,000 samples a second, metres to the micrometre."""
    time_s = np.arange(ROWS) / 2000
    places = np.random.default_rng(1).normal(0, 0.1, (ROWS, 3))
    np.savetxt(path, np.column_stack([time_s, places]), fmt="%.6f", delimiter=",", header=HEADER, comments="")


def fastest(work: Callable[[Path], object], path: Path) -> float:
    """The shortest of several times, in seconds of this process."""
    taken = []
    for _ in range(REPEATS):
        start = time.process_time()
        work(path)
        taken.append(time.process_time() - start)
    return min(taken)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "million.csv"
        write(path)
        ours = fastest(read, path)
        memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        bare = fastest(lambda file: np.loadtxt(file, delimiter=",", skiprows=1), path)
    print(f"{ROWS:,} rows of four columns: {ours:.2f} s, {ours / bare:.2f} times NumPy's {bare:.2f} s")
    print(f"memory of the whole process at its highest: {memory_mb:.0f} MB")


if __name__ == "__main__":
    main()
