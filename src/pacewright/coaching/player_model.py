"""The player's own law of head speed: what a backswing of some length at some tempo gives.

v = c·a/T with the constant c of this player in place of the textbook's, how c changes with length, the ratio
of ball to head speed, how much all this scatters, and whether the time changes with the length of the putt.
Method page: docs/methods/player-model.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pacewright.coaching.pooling import PooledLine, Prior, groups, pooled_line
from pacewright.core.errors import QualityError
from pacewright.core.measure import Measure
from pacewright.core.outcome import Putt
from pacewright.core.stroke import Stroke

FloatArray = NDArray[np.float64]

TEXTBOOK_CONSTANT = math.pi / 2.0
"""The half cosine between equal markers (derived)."""
STROKE_SPREAD, STROKE_SPREAD_COUNT = 0.02, 3.0
"""The spread of the constant from stroke to stroke starts as if three strokes had shown 2 % (our choice)."""
CONSTANT_PRIOR = Prior(
    math.log(TEXTBOOK_CONSTANT),
    0.08,
    slope_sd=0.10,
    scatter=STROKE_SPREAD,
    scatter_strokes=STROKE_SPREAD_COUNT,
)
"""Before any stroke: the textbook's give or take 8 %, free of length give or take an exponent of 0.10 (our
choice). The law gives 1.35 to 1.74 for a through marker of half to twice the back marker; nine players in ten
are taken to lie between 1.38 and 1.79."""
CENTRED_RATIO = 1.59
"""Ball over head speed, centred strike of a 350 g head (derived)."""
RATIO_SD = 0.03
"""Players about the ratio of mechanics, relative (our choice): restitution 0.78 to 0.85 gives 1.574 to 1.635,
strikes off the centre take more."""
RATIO_SPREAD = 0.02
"""Spread of the ratio from stroke to stroke, likewise."""
MISHIT_SDS = 3.5
"""A constant further out than so many robust SDs counts as that far, so that no mishit moves the markers."""
TIME_PRIOR = Prior(math.log(0.31), 0.30)
TIME_EXPONENT_SD = 0.10
"""If the time changes with length, by an exponent of some 0.1: 7 % for twice the length (our choice)."""
LEAST_STROKES = 3
LENGTH_BIN_LOG = 0.05
REPLICAS = 500
LEAST_CHANCE = 0.005
"""A check speaks up when strokes by the model show as much less often than this: four checks are made."""
SEED = 4


@dataclass(frozen=True, slots=True)
class SwingData:
    """n strokes in the order played, all (n,): lengths in m, times in s, speeds in m/s; nan where missing.

    ``session`` labels the day. ``noise`` is the relative variance that measuring adds to c, nan where not
    known.
    """

    backswing_length_m: FloatArray
    downswing_time_s: FloatArray
    impact_speed_m_s: FloatArray
    ball_speed_m_s: FloatArray
    asked_m: FloatArray
    session: tuple[str, ...]
    noise: FloatArray


@dataclass(frozen=True, slots=True)
class TimeWithLength:
    """Whether downswing time changes with the length of the putt.

    ``exponent``: time ∝ asked^exponent. ``bayes_factor`` compares a change with none, above 1 for a change;
    ``words`` says how much that is.
    """

    exponent: Measure
    bayes_factor: float
    words: str


@dataclass(frozen=True, slots=True)
class Check:
    """One posterior predictive check: ``chance`` that strokes by the model show as much or more.

    ``text`` is empty when nothing is wrong.
    """

    name: str
    observed: float
    chance: float
    text: str


@dataclass(frozen=True, slots=True)
class PlayerModel:
    """A player's own law, from ``strokes`` in ``sessions``.

    ``constant`` is c at ``reference_length_m`` of backswing; c ∝ length^``length_exponent``. The spreads are
    SDs as a share: of c from stroke to stroke (measurement noise out, where known), between sessions, and
    between lengths beyond the exponent. ``ratio`` is ball over head speed, None where the ball was not seen.
    ``time`` is None when all putts were of one length. ``line`` holds the posterior.
    """

    strokes: int
    sessions: int
    reference_length_m: float
    constant: Measure
    length_exponent: Measure
    spread: float
    session_spread: float
    length_spread: float
    ratio: Measure | None
    ratio_spread: float
    downswing_time: Measure
    time: TimeWithLength | None
    checks: tuple[Check, ...]
    line: PooledLine

    @property
    def source(self) -> str:
        """Where the constant comes from, in words for a station."""
        days = f" in {self.sessions} sessions" if self.sessions > 1 else ""
        return f"this player's own, from {self.strokes} strokes{days}"

    def constant_at(self, backswing_length_m: float) -> Measure:
        """The constant for a backswing of that length, with the uncertainty of knowing it, scatter apart."""
        mean, sd = self.line.at(math.log(backswing_length_m / self.reference_length_m))
        return Measure(math.exp(mean), math.exp(mean) * sd, "player-model")

    def backswing_for(self, head_speed_m_s: float, downswing_time_s: float) -> float:
        """Backswing length that gives a head speed in that time: v = c·a/T solved for a, in m."""
        plain = head_speed_m_s * downswing_time_s / self.constant.value / self.reference_length_m
        return float(self.reference_length_m * plain ** (1.0 / (1.0 + self.length_exponent.value)))

    def head_speed(self, backswing_length_m: float, downswing_time_s: float) -> Measure:
        """Head speed to expect of one stroke, in m/s; its sd holds the scatter as well."""
        constant = self.constant_at(backswing_length_m)
        speed = constant.value * backswing_length_m / downswing_time_s
        relative = math.hypot(constant.sd / constant.value, self.spread, self.session_spread)
        return Measure(speed, speed * relative, "player-model")


def data_from_putts(putts: Sequence[Putt]) -> SwingData:
    """What putts with outcomes say of the stroke."""
    return _data(
        [putt.value for putt in putts], [putt.sd for putt in putts], [putt.asked_m for putt in putts],
        [putt.session for putt in putts],
    )  # fmt: skip


def data_from_strokes(strokes: Sequence[Stroke]) -> SwingData:
    """What measured strokes say; rehearsals are left out. A session is a recording's source.

    Where the ball's speed was not noted it follows from its ratio to the head's.
    """
    kept = [stroke for stroke in strokes if stroke.kind == "putt"]
    return _data(
        [stroke.value for stroke in kept], [stroke.sd for stroke in kept],
        [stroke.asked_length_m or math.nan for stroke in kept],
        [stroke.labels.get("session", stroke.source) for stroke in kept],
    )  # fmt: skip


def _data(
    value: Sequence[Callable[[str], float]], sd: Sequence[Callable[[str], float]],
    asked_m: Sequence[float], session: Sequence[str],
) -> SwingData:  # fmt: skip
    def column(name: str) -> FloatArray:
        return np.array([of(name) for of in value], dtype=float)

    def relative(name: str) -> FloatArray:
        return np.array([s(name) / v(name) for s, v in zip(sd, value, strict=True)], dtype=float) ** 2

    names = ("backswing_length_m", "downswing_time_s", "impact_speed_m_s")
    head, ball = column("impact_speed_m_s"), column("ball_speed_m_s")
    return SwingData(
        backswing_length_m=column("backswing_length_m"),
        downswing_time_s=column("downswing_time_s"),
        impact_speed_m_s=head,
        ball_speed_m_s=np.where(np.isfinite(ball), ball, column("ball_speed_ratio") * head),
        asked_m=np.array(asked_m, dtype=float),
        session=tuple(session),
        noise=np.sum([relative(name) for name in names], axis=0),
    )


def fit_player_model(data: SwingData, *, centred_ratio: float = CENTRED_RATIO) -> PlayerModel:
    """Fit the model; ``centred_ratio`` is ball over head speed by mechanics, for this putter.

    Raises QualityError with fewer than three strokes that have length, time and speed.
    """
    a, t, v = data.backswing_length_m, data.downswing_time_s, data.impact_speed_m_s
    known = (a > 0.0) & (t > 0.0) & (v > 0.0)
    count = int(known.sum())
    if count < LEAST_STROKES:
        raise QualityError(
            f"{count} strokes have backswing length, downswing time and head speed; a player's own constant "
            f"needs {LEAST_STROKES} or more."
        )
    session = np.array(data.session)[known]
    log_a = np.log(a[known])
    reference = float(log_a.mean())
    log_constant = np.log(v[known] * t[known]) - log_a
    labels = _length_labels(data.asked_m[known])
    between = _means_of_groups(log_a - reference, labels)
    line = pooled_line(
        _mishits_drawn_in(log_constant, between), between, CONSTANT_PRIOR, groups(session), groups(labels)
    )
    line = replace(line, left=log_constant - line.design @ line.coefficients)
    noise = data.noise[known]
    noise_variance = float(np.mean(noise[np.isfinite(noise)])) if np.isfinite(noise).any() else 0.0
    mean, sd = line.at(0.0)
    ratio, ratio_spread = _ratio(data, known, session, centred_ratio)
    time_s = float(np.exp(np.log(t[known]).mean()))
    return PlayerModel(
        strokes=count,
        sessions=len(set(session.tolist())),
        reference_length_m=math.exp(reference),
        constant=Measure(math.exp(mean), math.exp(mean) * sd, "player-model"),
        length_exponent=Measure(
            float(line.coefficients[1]), math.sqrt(float(line.covariance[1, 1])), "player-model"
        ),
        spread=math.sqrt(max(line.scatter**2 - noise_variance, 0.0)),
        session_spread=line.session_sd,
        length_spread=line.length_sd,
        ratio=ratio,
        ratio_spread=ratio_spread,
        downswing_time=Measure(time_s, float(t[known].std(ddof=1)) / math.sqrt(count), "player-model"),
        time=_time_with_length(t[known], data.asked_m[known], session),
        checks=_checks(line, log_a - reference),
        line=line,
    )


def _means_of_groups(x: FloatArray, labels: FloatArray) -> FloatArray:
    """x (n,) with each value replaced by the mean of those with its label.

    Whether the constant changes with length is told by putts of different lengths. Within one length a player
    makes up for a long backswing to reach the speed that the putt wants, which is no law of other lengths.
    """
    _, index = np.unique(labels, return_inverse=True)
    return np.asarray((np.bincount(index, x) / np.bincount(index))[index])


def _mishits_drawn_in(y: FloatArray, x: FloatArray) -> FloatArray:
    """y (n,) with what lies beyond `MISHIT_SDS` of a robust line in x (n,) drawn in to there."""
    design = np.column_stack([np.ones(y.size), x])
    solver = np.linalg.pinv(design)
    drawn = np.clip(
        y, *(float(np.median(y)) + np.array([-1.0, 1.0]) * MISHIT_SDS * _robust_sd(y - np.median(y)))
    )
    for _ in range(5):
        fitted = design @ (solver @ drawn)
        reach = MISHIT_SDS * _robust_sd(y - fitted)
        drawn = fitted + np.clip(y - fitted, -reach, reach)
    return np.asarray(drawn)


def _robust_sd(left: FloatArray) -> float:
    """SD from the median of absolute values, pooled with the usual one as if more strokes had shown it."""
    own = (1.4826 * float(np.median(np.abs(left)))) ** 2
    count = STROKE_SPREAD_COUNT + left.size
    return math.sqrt((STROKE_SPREAD_COUNT * STROKE_SPREAD**2 + left.size * own) / count)


def _length_labels(asked_m: FloatArray) -> FloatArray:
    """Putts within 5 % of a length share a label; those of unknown length share one."""
    return np.where(np.isfinite(asked_m), np.round(np.log(asked_m) / LENGTH_BIN_LOG), -1e6)


def _ratio(
    data: SwingData, known: NDArray[np.bool_], session: NDArray[np.str_], centred: float
) -> tuple[Measure | None, float]:
    ball = data.ball_speed_m_s[known]
    seen = ball > 0.0
    if int(seen.sum()) < LEAST_STROKES:
        return None, math.nan
    y = np.log(ball[seen] / data.impact_speed_m_s[known][seen])
    nothing = np.zeros((y.size, 0))
    prior = Prior(math.log(centred), RATIO_SD, 0.0, 0.0, RATIO_SPREAD, STROKE_SPREAD_COUNT)
    line = pooled_line(y, np.zeros(y.size), prior, groups(session[seen]), nothing)
    mean, sd = line.at(0.0)
    return Measure(math.exp(mean), math.exp(mean) * sd, "player-model"), line.scatter


def _time_with_length(
    time_s: FloatArray, asked_m: FloatArray, session: NDArray[np.str_]
) -> TimeWithLength | None:
    """Bayes factor of a time that changes with length against one that does not, sessions apart."""
    known = np.isfinite(asked_m)
    if int(known.sum()) < LEAST_STROKES or float(np.ptp(np.log(asked_m[known]))) <= LENGTH_BIN_LOG:
        return None
    y, x = np.log(time_s[known]), np.log(asked_m[known])
    x = x - x.mean()
    days, nothing = groups(session[known]), np.zeros((y.size, 0))
    changing = pooled_line(
        y, x, Prior(TIME_PRIOR.level, TIME_PRIOR.level_sd, 0.0, TIME_EXPONENT_SD), days, nothing
    )
    same = pooled_line(y, x, Prior(TIME_PRIOR.level, TIME_PRIOR.level_sd, 0.0, 0.0), days, nothing)
    factor = math.exp(min(changing.log_evidence - same.log_evidence, 600.0))
    slope = float(changing.coefficients[1])
    exponent = Measure(slope, math.sqrt(float(changing.covariance[1, 1])), "player-model")
    return TimeWithLength(exponent, factor, _words(factor, slope))


def _words(factor: float, slope: float) -> str:
    longer = "longer" if slope > 0.0 else "shorter"
    if factor >= 10.0:
        return f"The downswing takes {longer} on longer putts; the evidence is strong."
    if factor >= 3.0:
        return f"The downswing seems to take {longer} on longer putts; the evidence is fair."
    if factor > 1.0 / 3.0:
        return "These putts cannot tell whether the time changes with the length of the putt."
    if factor > 1.0 / 10.0:
        return "The time seems to be the same for all lengths; the evidence is fair."
    return "The time is the same for all lengths; the evidence is strong."


def _checks(line: PooledLine, x: FloatArray) -> tuple[Check, ...]:
    """What the strokes show against what strokes by the model show, fitted in the same way."""
    rng = np.random.default_rng(SEED)
    drawn = rng.normal(0.0, line.scatter, (REPLICAS, line.left.size))
    replicas = drawn - (drawn @ line.shrink.T) @ line.design.T
    checks = []
    for name, (statistic, text) in _CHECKS.items():
        observed = float(statistic(line.left[None, :], x)[0])
        chance = float(np.mean(statistic(replicas, x) >= observed))
        checks.append(Check(name, observed, chance, text if chance < LEAST_CHANCE else ""))
    return tuple(checks)


def _largest(left: FloatArray, _x: FloatArray) -> FloatArray:
    return np.asarray(np.abs(left).max(axis=1))


def _alike_in_order(left: FloatArray, _x: FloatArray) -> FloatArray:
    return np.asarray(np.abs(np.sum(left[:, 1:] * left[:, :-1], axis=1)))


def _bend(left: FloatArray, x: FloatArray) -> FloatArray:
    return np.asarray(np.abs(left @ ((x - x.mean()) ** 2 - x.var())))


def _unequal(left: FloatArray, x: FloatArray) -> FloatArray:
    squares = left**2
    return np.asarray(np.abs(squares @ (x - x.mean())) / squares.sum(axis=1))


_CHECKS: dict[str, tuple[Callable[[FloatArray, FloatArray], FloatArray], str]] = {
    "mishit": (_largest, "One stroke fits the rest badly: see what happened there."),
    "order": (
        _alike_in_order,
        "Strokes that follow each other are alike: the player changed during the session.",
    ),
    "bend": (
        _bend,
        "The constant does not change evenly with length: do not use it beyond the lengths seen.",
    ),
    "unequal spread": (_unequal, "Head speed is steadier at some lengths than at others."),
}
"""Each statistic from residuals (m, n) and log lengths (n,), and what to say when it is out of the way."""
