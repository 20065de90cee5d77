"""Roll-out from a measured speed, with its uncertainty.

On a plane green the roll-out L grows with the square of ball speed (see `solve`), so that u(L)/L = 2·u(v)/v.
Where the ball was not seen its speed is the head's times the ratio of impact, whose restitution is uncertain
too. The green's own spread is left out: the figure is for the stated green.
"""

from __future__ import annotations

import math

from pacewright.ball.impact import RESTITUTION_SD, ball_speed_ratio
from pacewright.ball.path import roll_out
from pacewright.ball.skid import SLIDING_FRICTION
from pacewright.core.equipment import Putter
from pacewright.core.green import Green
from pacewright.core.launch import Launch
from pacewright.core.measure import Measure


def predicted_roll_out(
    green: Green,
    putter: Putter,
    *,
    ball_speed: Measure | None,
    head_speed: Measure | None,
    sliding_friction: float | None = SLIDING_FRICTION,
) -> Measure | None:
    """Roll-out in metres along the target line from ball speed, or else from head speed, both in m/s.

    None when neither is known. An uncertainty that is not known stays unknown (nan).
    Raises SettingsError for a speed that is no putt's, SimulationError when the ball never stops.
    """
    if ball_speed is not None and ball_speed.is_known:
        speed, share_sd = ball_speed.value, ball_speed.sd / ball_speed.value
    elif head_speed is not None and head_speed.is_known:
        speed = head_speed.value * ball_speed_ratio(putter)
        share_sd = math.hypot(head_speed.sd / head_speed.value, RESTITUTION_SD / (1.0 + putter.restitution))
    else:
        return None
    length_m = roll_out(Launch(speed), green, sliding_friction=sliding_friction).roll_out_m
    return Measure(length_m, 2.0 * share_sd * length_m, "roll")
