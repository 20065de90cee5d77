"""Speed of the stroke analysis: strokes a second from arrays, and a recording of a million rows from file.

The baseline in the same run is one SciPy smoothing spline (`make_smoothing_spline` with a fixed penalty, the
cheapest way to a smooth speed curve) through the same samples. Run `python -m benchmarks.analysis`.
"""

from __future__ import annotations

import resource
import statistics
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from scipy.interpolate import make_smoothing_spline

from pacewright.app.assessment import AssessOptions, assess
from pacewright.core.recording import Recording
from pacewright.simulate.sampling import Sampling, record_trajectory
from pacewright.simulate.stroke_model import random_stroke
from pacewright.stroke.analyse import analyse

STROKES = 60
ROWS = 1_000_000
BIG_STROKES = 500


def main() -> int:
    """Print both figures."""
    print("one core; a stroke is found, fitted and measured with uncertainties")
    _from_arrays()
    _from_file()
    return 0


def _from_arrays() -> None:
    rng = np.random.default_rng(1)
    recordings = [
        record_trajectory([random_stroke(rng)], rng, Sampling(240.0)).recording for _ in range(STROKES)
    ]
    analyse(recordings[0])
    ours, spline = [], []
    for recording in recordings:
        started = time.perf_counter()
        analyse(recording, with_curve=False)
        ours.append(time.perf_counter() - started)
        started = time.perf_counter()
        _spline(recording)
        spline.append(time.perf_counter() - started)
    each = statistics.median(ours)
    ratio = statistics.median(o / s for o, s in zip(ours, spline, strict=True))
    print(f"from arrays at 240 Hz: {1 / each:.0f} strokes a second; {ratio:.2f} times one smoothing spline")


def _spline(recording: Recording) -> None:
    head = recording.traces["head"]
    make_smoothing_spline(head.time_s, head.values[:, 0], lam=1e-9).derivative()(head.time_s)


def _from_file() -> None:
    """A million rows and 500 strokes: the samples of 50 strokes over and over, as one long session."""
    rng = np.random.default_rng(2)
    rate_hz = ROWS / (BIG_STROKES * 5.2)
    models = [random_stroke(rng) for _ in range(50)]
    head = record_trajectory(models, rng, Sampling(rate_hz)).recording.traces["head"]
    table = np.column_stack([head.time_s, head.values])
    pause_s = 2.0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "session.csv"
        with path.open("w") as file:
            file.write("time_s,head_x_m,head_y_m\n")
            for k in range(10):
                moved = table + np.array([k * (table[-1, 0] + pause_s), 0.0, 0.0])
                np.savetxt(file, moved, delimiter=",", fmt="%.6f")
        rows = 10 * table.shape[0]
        started = time.perf_counter()
        (assessment,) = assess([path], AssessOptions(curves=False))
        took_s = time.perf_counter() - started
        started = time.perf_counter()
        np.loadtxt(path, delimiter=",", skiprows=1)
        reading_s = time.perf_counter() - started
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"from a file of {rows} rows: {len(assessment.strokes)} strokes in {took_s:.1f} s, "
        f"{took_s / reading_s:.1f} times numpy.loadtxt of the same file; peak memory {peak_mb:.0f} MB"
    )


if __name__ == "__main__":
    sys.exit(main())
