"""Speed of the error budget: one player with 2,000 putts, and many players.

The baseline in the same run is a bootstrap of the same shares, 200 resamples of one covariance each. Run
`python -m benchmarks.budget`.
"""

from __future__ import annotations

import statistics
import sys
import time

import numpy as np

from pacewright.coaching.budget import error_budget
from pacewright.coaching.terms import terms
from pacewright.simulate.players import SimulatedPlayer, Task, mixed_lengths, simulate_mixed, simulate_putts

RESAMPLES = 200
PLAYERS = 50


def main() -> int:
    """Print the figures."""
    rng = np.random.default_rng(1)
    putts = simulate_mixed(SimulatedPlayer(), rng, 2000)
    holed = simulate_putts(SimulatedPlayer(), rng, [Task(mixed_lengths(rng, 2000, 1.0, 4.0))], hole=True)
    error_budget(putts)
    ours, baseline = _seconds(lambda: error_budget(putts)), _seconds(lambda: _bootstrap(putts))
    print(f"2,000 putts with intervals: {1000 * ours:.0f} ms, {ours / baseline:.2f} of a bootstrap")
    censored = _seconds(lambda: error_budget(holed))
    print(f"2,000 putts at a hole, some holed: {1000 * censored:.0f} ms, {censored / ours:.1f} times that")
    sessions = [simulate_mixed(SimulatedPlayer(), rng, 100) for _ in range(PLAYERS)]
    each = _seconds(lambda: [error_budget(session) for session in sessions]) / PLAYERS
    print(f"100 putts: {1000 * each:.1f} ms a player, {1 / each:.0f} players a second on one core")
    return 0


def _seconds(work: object) -> float:
    assert callable(work)
    taken = []
    for _ in range(5):
        started = time.perf_counter()
        work()
        taken.append(time.perf_counter() - started)
    return statistics.median(taken)


def _bootstrap(putts: list) -> None:  # type: ignore[type-arg]
    data = terms(putts)
    rng = np.random.default_rng(2)
    for _ in range(RESAMPLES):
        drawn = data.values[rng.integers(0, len(putts), len(putts))]
        np.cov(drawn, rowvar=False)


if __name__ == "__main__":
    sys.exit(main())
