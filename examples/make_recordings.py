"""Make `hasty-10ft.csv`: ten putts of 10 ft by an invented player, Ines Marlow, at 120 samples a second.

Her backswing is long and slow, so the downswing has to hurry and is still speeding up when it meets the ball.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from pacewright.simulate.sampling import Sampling, record_trajectory
from pacewright.simulate.stroke_model import StrokeModel

PUTTS = 10


def main() -> None:
    """Write the recording beside this file; the same every time."""
    rng = np.random.default_rng(10)
    models = [
        StrokeModel(
            backswing_time_s=rng.normal(0.98, 0.04),
            downswing_time_s=rng.normal(0.35, 0.012),
            backswing_length_m=rng.normal(0.27, 0.02),
            impact_acceleration_m_s2=rng.normal(3.0, 0.4),
            follow_through_time_s=rng.normal(0.5, 0.03),
        )
        for _ in range(PUTTS)
    ]
    recorded = record_trajectory(models, rng, Sampling(rate_hz=120.0, still_before_s=0.6, return_time_s=1.0))
    head = recorded.recording.traces["head"]
    table = np.column_stack([head.time_s, head.values])
    path = Path(__file__).parent / "hasty-10ft.csv"
    np.savetxt(
        path,
        table,
        delimiter=",",
        fmt=["%.4f", "%.5f", "%.5f"],
        header="time_s,head_x_m,head_y_m",
        comments="",
    )


if __name__ == "__main__":
    main()
