"""How a player turns length and time into speed: the textbook's figures, or the player's own.

The constant and the ball-speed ratio are the player model's. The ends of the movement, which that model does
not know, are robust means over the putts, drawn towards the textbook's by as much as the strokes leave open.
Method page: docs/methods/station.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pacewright.coaching.norms import norm
from pacewright.coaching.player_model import (
    CONSTANT_PRIOR,
    RATIO_SD,
    TEXTBOOK_CONSTANT,
    PlayerModel,
    data_from_strokes,
    fit_player_model,
)
from pacewright.coaching.samples import measured, usable
from pacewright.core.errors import QualityError
from pacewright.core.measure import Measure
from pacewright.core.stroke import Stroke

_PRIOR_STROKES = 3.0
"""The prior spread between strokes counts as much as that of so many strokes."""


@dataclass(frozen=True, slots=True)
class Swing:
    """Figures of a player's stroke, each with its standard uncertainty.

    ``constant``          c in head speed = c·backswing length / downswing time, at the model's reference
    ``through_ratio``     where the movement would end without a ball, over the backswing length
    ``ball_speed_ratio``  ball speed over head speed
    ``head_speed_kept``   share of its speed that the head keeps through contact
    ``source`` says whose they are and from how many strokes; ``strokes`` is that number, 0 for the textbook.
    ``model`` is the player's own law, None for the textbook.
    """

    constant: Measure
    through_ratio: Measure
    ball_speed_ratio: Measure
    head_speed_kept: Measure
    source: str
    strokes: int = 0
    model: PlayerModel | None = None

    def backswing_for(self, head_speed_m_s: float, downswing_time_s: float) -> float:
        """Backswing length that gives a head speed in that time, in m."""
        if self.model is not None:
            return self.model.backswing_for(head_speed_m_s, downswing_time_s)
        return head_speed_m_s * downswing_time_s / self.constant.value

    def constant_for(self, backswing_length_m: float) -> Measure:
        """The constant at that length of backswing, on a day like those recorded."""
        if self.model is None:
            return self.constant
        own = self.model.constant_at(backswing_length_m)
        relative = math.hypot(own.sd / own.value, self.model.session_spread)
        return Measure(own.value, own.value * relative, own.method)

    def relative_sd(self, backswing_length_m: float) -> float:
        """Relative standard uncertainty of a backswing of that length for a ball speed that is wanted."""
        constant, ratio = self.constant_for(backswing_length_m), self.ball_speed_ratio
        steepness = 1.0 if self.model is None else 1.0 + self.model.length_exponent.value
        return math.hypot(constant.sd / constant.value, ratio.sd / ratio.value) / steepness


@dataclass(frozen=True, slots=True)
class _Prior:
    """Relative SDs: of players about the textbook, and of one player's strokes about their mean."""

    players: float
    strokes: float


_THROUGH = _Prior(players=0.25, strokes=0.08)
_KEPT = _Prior(players=0.03, strokes=0.03)


def textbook_swing(*, ball_speed_ratio: float, head_speed_kept: float) -> Swing:
    """The half cosine between equal markers (constant π/2), with the putter's figures from mechanics."""
    return Swing(
        constant=_relative(TEXTBOOK_CONSTANT, CONSTANT_PRIOR.level_sd),
        through_ratio=_relative(norm("through-marker").value, _THROUGH.players),
        ball_speed_ratio=_relative(ball_speed_ratio, RATIO_SD),
        head_speed_kept=_relative(head_speed_kept, _KEPT.players),
        source="the textbook's, for equal markers",
    )


def own_swing(strokes: Sequence[Stroke], *, ball_speed_ratio: float, head_speed_kept: float) -> Swing:
    """The player's own figures from their putts; under three strokes the textbook's."""
    textbook = textbook_swing(ball_speed_ratio=ball_speed_ratio, head_speed_kept=head_speed_kept)
    putts, _ = usable(strokes)
    try:
        model = fit_player_model(data_from_strokes(putts), centred_ratio=ball_speed_ratio)
    except QualityError:
        return textbook
    kept = _own(_figures(putts, "collision_speed_kept"), textbook.head_speed_kept, _KEPT)
    # The ball takes its share of the head's speed, and of the way that is left to go with it.
    through = [ratio / kept.value for ratio in _figures(putts, "length_ratio")]
    return Swing(
        constant=model.constant,
        through_ratio=_own(through, textbook.through_ratio, _THROUGH),
        ball_speed_ratio=model.ratio or textbook.ball_speed_ratio,
        head_speed_kept=kept,
        source=model.source,
        strokes=model.strokes,
        model=model,
    )


def _figures(strokes: Sequence[Stroke], name: str) -> list[float]:
    return [s.value(name) for s in measured(strokes, name)]


def _relative(value: float, sd: float) -> Measure:
    return Measure(value, value * sd, "station")


def _own(figures: Sequence[float], textbook: Measure, prior: _Prior) -> Measure:
    """Median of the figures, drawn towards the textbook's; without figures, the textbook's.

    Uncertainties of the single figures are not used: what differs from stroke to stroke is in the spread,
    and an unsure scale of length cancels in both ratios.
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
