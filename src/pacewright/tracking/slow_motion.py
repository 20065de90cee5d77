"""At what rate a clip was filmed, when the file does not say: inferred from the ball's slowing and the
stroke's time.

A file that plays 240 pictures a second at 30 shows everything eight times too slow. A ball loses speed by
known laws, sliding and then rolling: the share of its speed that it loses over the time it is seen
depends on the true rate. And nobody's downswing takes two seconds. Both are weighed for each usual
capture rate; unless one rate is clearly the likeliest, the question is put to the person.
"""

from __future__ import annotations

from itertools import product

import numpy as np

from pacewright.core.errors import ReadError
from pacewright.core.recording import FloatArray

USUAL_RATES_HZ = (30.0, 60.0, 120.0, 240.0, 480.0, 960.0)
_DOWNSWING_S, _DOWNSWING_LOG_SD = 0.30, 0.22
"""Time of the downswing over players: centre and spread of its logarithm (`stroke-science`, published
means).
"""
_SLIDING = (0.2, 0.3, 0.45)
_ROLLING_M_S2 = (0.4, 0.6, 0.9)
_ROLL_SHARE = (0.0, 0.3)
_LEAST_ODDS = 20.0
_G_M_S2 = 9.81


def inferred_rate_hz(
    played_hz: float, downswing_file_s: float, ball_file_s: FloatArray, ball_travel_m: FloatArray
) -> tuple[float, float]:
    """The likeliest capture rate and the odds against the next likeliest.

    ``downswing_file_s`` and ``ball_file_s`` (n,) are in the file's time, ``ball_travel_m`` (n,) is the
    way of the ball since it left.
    """
    rates = sorted({*(rate for rate in USUAL_RATES_HZ if rate > 1.2 * played_hz), played_hz})
    weights = np.array(
        [
            _stroke_weight(downswing_file_s * played_hz / rate)
            + _ball_weight(ball_file_s * played_hz / rate, ball_travel_m)
            for rate in rates
        ]
    )
    order = np.argsort(weights)
    best = int(order[-1])
    odds = float(np.exp(min(weights[best] - weights[order[-2]], 50.0))) if len(rates) > 1 else np.inf
    return float(rates[best]), odds


def capture_rate_hz(
    name: str, played_hz: float, downswing_file_s: float, ball_file_s: FloatArray, ball_travel_m: FloatArray
) -> float:
    """The capture rate, or ReadError with the question when it cannot be inferred."""
    rate, odds = inferred_rate_hz(played_hz, downswing_file_s, ball_file_s, ball_travel_m)
    if odds < _LEAST_ODDS:
        raise ReadError(
            f"{name}: the clip plays at {played_hz:.3g} pictures a second, and whether it was filmed faster "
            "cannot be told from it. At how many was it filmed? Say so with --capture-rate, such as 240."
        )
    return rate


def _stroke_weight(downswing_s: float) -> float:
    """Log-likelihood of a downswing of that time."""
    return float(-0.5 * (np.log(max(downswing_s, 1e-3) / _DOWNSWING_S) / _DOWNSWING_LOG_SD) ** 2)


def _ball_weight(time_s: FloatArray, travel_m: FloatArray) -> float:
    """Log-likelihood of the loss of speed seen, over greens and launches."""
    if time_s.size < 8:
        return 0.0
    half = time_s.size // 2
    first, second = (
        np.polyfit(time_s[part], travel_m[part], 1)[0] for part in (slice(half), slice(half, None))
    )
    rough = np.polyval(np.polyfit(time_s, travel_m, 3), time_s)
    noise = max(float(np.std(travel_m - rough)), 1e-5)
    span = float(time_s[-1] - time_s[0])
    sd = 0.01 + 7.0 * noise / np.sqrt(time_s.size) / (first * span)
    lost = 1.0 - second / first
    middles = [float(time_s[part].mean() - time_s[0]) for part in (slice(half), slice(half, None))]
    likelihood = [
        np.exp(-0.5 * ((lost - _lost_share(float(first), middles, *green)) / sd) ** 2)
        for green in product(_SLIDING, _ROLLING_M_S2, _ROLL_SHARE)
    ]
    return float(np.log(np.mean(likelihood) + 1e-6))


def _lost_share(
    first_m_s: float, moments_s: list[float], sliding: float, rolling_m_s2: float, roll_share: float
) -> float:
    """Share of its speed that a ball has lost from one moment to a later one."""
    speeds = []
    until_s = 2.0 / 7.0 * (1.0 - roll_share) * first_m_s / (sliding * _G_M_S2)
    for moment in moments_s:
        slid = min(moment, until_s)
        speeds.append(first_m_s - sliding * _G_M_S2 * slid - rolling_m_s2 * (moment - slid))
    return 1.0 - speeds[1] / max(speeds[0], 1e-3)
