"""How a player turns length and time into speed: the textbook's figures, or the player's own.

Each own figure is a robust mean over the player's putts, drawn towards the textbook's by as much as the
strokes leave open (a normal prior on its logarithm, whose widths are stated here and are our choice).
Method page: docs/methods/station.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pacewright.coaching.norms import norm
from pacewright.coaching.samples import measured, usable
from pacewright.core.measure import Measure
from pacewright.core.stroke import Stroke

_PRIOR_STROKES = 3.0
"""The prior spread between strokes counts as much as that of so many strokes."""


@dataclass(frozen=True, slots=True)
class Swing:
    """Figures of a player's stroke, each with its standard uncertainty.

    ``constant``          c in head speed = c·backswing length / downswing time
    ``through_ratio``     where the movement would end without a ball, over the backswing length
    ``ball_speed_ratio``  ball speed over head speed
    ``head_speed_kept``   share of its speed that the head keeps through contact
    ``source`` says whose they are and from how many strokes; ``strokes`` is that number, 0 for the textbook.
    """

    constant: Measure
    through_ratio: Measure
    ball_speed_ratio: Measure
    head_speed_kept: Measure
    source: str
    strokes: int = 0


@dataclass(frozen=True, slots=True)
class _Prior:
    """Relative SDs: of players about the textbook, and of one player's strokes about their mean."""

    players: float
    strokes: float


# The derived laws reach from 1.571 (equal markers) to 1.741 (through marker twice the back marker).
_CONSTANT = _Prior(players=0.06, strokes=0.03)
_THROUGH = _Prior(players=0.25, strokes=0.08)
# One-dimensional impact with restitution 0.78 to 0.85 gives 1.574 to 1.635; strikes off the centre take more.
_BALL_SPEED = _Prior(players=0.02, strokes=0.02)
_KEPT = _Prior(players=0.03, strokes=0.03)


def textbook_swing(*, ball_speed_ratio: float, head_speed_kept: float) -> Swing:
    """The half cosine between equal markers (constant π/2), with the putter's figures from mechanics."""
    return Swing(
        constant=_prior_measure(math.pi / 2.0, _CONSTANT),
        through_ratio=_prior_measure(norm("through-marker").value, _THROUGH),
        ball_speed_ratio=_prior_measure(ball_speed_ratio, _BALL_SPEED),
        head_speed_kept=_prior_measure(head_speed_kept, _KEPT),
        source="the textbook's, for equal markers",
    )


def own_swing(strokes: Sequence[Stroke], *, ball_speed_ratio: float, head_speed_kept: float) -> Swing:
    """The player's own figures from their putts; what no stroke shows stays the textbook's."""
    textbook = textbook_swing(ball_speed_ratio=ball_speed_ratio, head_speed_kept=head_speed_kept)
    putts, _ = usable(strokes)
    constants = [
        s.value("impact_speed_m_s") * s.value("downswing_time_s") / s.value("backswing_length_m")
        for s in measured(putts, "impact_speed_m_s", "downswing_time_s", "backswing_length_m")
    ]
    if not constants:
        return textbook
    kept = _own(_figures(putts, "collision_speed_kept"), textbook.head_speed_kept, _KEPT)
    # The ball takes its share of the head's speed, and of the way that is left to go with it.
    through = [ratio / kept.value for ratio in _figures(putts, "length_ratio")]
    plural = "" if len(constants) == 1 else "s"
    return Swing(
        constant=_own(constants, textbook.constant, _CONSTANT),
        through_ratio=_own(through, textbook.through_ratio, _THROUGH),
        ball_speed_ratio=_own(_figures(putts, "ball_speed_ratio"), textbook.ball_speed_ratio, _BALL_SPEED),
        head_speed_kept=kept,
        source=f"this player's own, from {len(constants)} stroke{plural}",
        strokes=len(constants),
    )


def _figures(strokes: Sequence[Stroke], name: str) -> list[float]:
    return [s.value(name) for s in measured(strokes, name)]


def _prior_measure(value: float, prior: _Prior) -> Measure:
    return Measure(value, value * prior.players, "station")


def _own(figures: Sequence[float], textbook: Measure, prior: _Prior) -> Measure:
    """Median of the figures, drawn towards the textbook's; without figures, the textbook's.

    Uncertainties of the single figures are not used: what differs from stroke to stroke is in the spread,
    and an unsure scale of length cancels in every one of these ratios.
    """
    if not figures:
        return textbook
    logs = np.log(np.asarray(figures, dtype=float))
    centre = float(np.median(logs))
    # 1.4826·MAD is the SD of normal figures, and the median's variance is π/2 times the mean's.
    spread_square = (1.4826 * float(np.median(np.abs(logs - centre)))) ** 2
    count = logs.size
    spread_square = (_PRIOR_STROKES * prior.strokes**2 + count * spread_square) / (_PRIOR_STROKES + count)
    error_square = spread_square / count * (math.pi / 2.0 if count > 2 else 1.0)
    weight = prior.players**2 / (prior.players**2 + error_square)
    value = math.exp(weight * centre + (1.0 - weight) * math.log(textbook.value))
    return Measure(value, value * math.sqrt(weight * error_square), "station")
