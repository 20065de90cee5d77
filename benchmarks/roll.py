"""Ten thousand putts in closed form against SciPy's solve_ivp on the same model: `python -m benchmarks.roll`.

Both roll the same putts on the same tilted plane in the same run, and the ratio of their times a putt is
printed with their accuracy beside it. solve_ivp gets every help: equations without overhead, a clock in which
they are smooth (dσ = dt/|slip|, then dt/|velocity|), an event for the end of the skid and one for rest. It
works on a sample, for all putts would take minutes. Accuracy is against solve_ivp at its finest tolerance.
"""

from __future__ import annotations

import math
import time

import numpy as np
from scipy.integrate import solve_ivp

from pacewright.ball.many import roll_many
from pacewright.ball.plane import plane_of
from pacewright.core.green import Green
from pacewright.core.units import FOOT_M

PUTTS = 10_000
SAMPLE = 100
FRICTION = 0.4
GREEN = Green(10 * FOOT_M, slope_rad=math.atan(0.02), cross_slope_rad=math.atan(-0.015))
HOLE_M = (3.0, 0.0)
REPEATS = 7


def step(speed_m_s: float, direction_rad: float, relative: float, still_m_s: float) -> tuple[float, float]:
    """Where one putt rests, by solve_ivp."""
    plane = plane_of(GREEN)
    g_x, g_y = (float(pull) for pull in plane.pull_m_s2)
    rub, drag = FRICTION * float(plane.normal_m_s2), float(plane.rolling_friction_m_s2)
    p_x, p_y = (float(pull) for pull in plane.rolling_pull_m_s2)

    def skid(_, s):
        slip = math.hypot(s[4], s[5])
        return [
            slip * s[2], slip * s[3], slip * g_x - rub * s[4], slip * g_y - rub * s[5],
            slip * g_x - 3.5 * rub * s[4], slip * g_y - 3.5 * rub * s[5],
        ]  # fmt: skip

    def roll(_, s):
        v = math.hypot(s[2], s[3])
        return [v * s[2], v * s[3], v * p_x - drag * s[2], v * p_y - drag * s[3]]

    def rolls(_, s):
        return math.hypot(s[4], s[5]) - still_m_s

    def rests(_, s):
        return math.hypot(s[2], s[3]) - still_m_s

    rolls.terminal = rests.terminal = True
    v_x, v_y = speed_m_s * math.cos(direction_rad), speed_m_s * math.sin(direction_rad)
    options = {"rtol": relative, "atol": 1e-3 * relative}
    slid = solve_ivp(skid, (0.0, 1e3), [0.0, 0.0, v_x, v_y, v_x, v_y], events=rolls, **options)
    rolled = solve_ivp(roll, (0.0, 1e3), slid.y[:4, -1], events=rests, **options)
    return rolled.y[0, -1], rolled.y[1, -1]


def main() -> None:
    """Print the table."""
    rng = np.random.default_rng(1)
    speed, direction = rng.uniform(1.0, 4.0, PUTTS), rng.normal(0.0, 0.05, PUTTS)

    def closed(**options):
        return roll_many(speed, GREEN, direction_rad=direction, sliding_friction=FRICTION, **options)

    rests = closed()
    truth = np.array([step(v, d, 1e-12, 1e-9) for v, d in zip(speed[:20], direction[:20], strict=True)])
    plain, holed = _seconds(closed), _seconds(lambda: closed(hole_m=HOLE_M))
    off = np.max(np.hypot(rests.x_m[:20] - truth[:, 0], rests.y_m[:20] - truth[:, 1]))
    print(f"{PUTTS} putts in closed form: {1e3 * plain:.1f} ms to rest, {1e3 * holed:.1f} ms with the hole")
    print(f"largest difference from solve_ivp at its finest: {1e3 * off:.1g} mm\n")
    print("solve_ivp tolerance   ms a putt   largest error   closed form is faster by   with the hole")
    for relative in (1e-3, 1e-6, 1e-9):
        start = time.perf_counter()
        stepped = np.array(
            [step(v, d, relative, 1e-4) for v, d in zip(speed[:SAMPLE], direction[:SAMPLE], strict=True)]
        )
        each = (time.perf_counter() - start) / SAMPLE
        error = np.max(np.hypot(stepped[:, 0] - rests.x_m[:SAMPLE], stepped[:, 1] - rests.y_m[:SAMPLE]))
        to_rest, with_hole = each * PUTTS / plain, each * PUTTS / holed
        figures = f"{relative:17.0e} {1e3 * each:11.2f} {1e3 * error:12.2g} mm"
        print(f"{figures} {to_rest:22.0f} × {with_hole:13.0f} ×")


def _seconds(work) -> float:
    """Median time of one call."""
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return float(np.median(times))


if __name__ == "__main__":
    main()
