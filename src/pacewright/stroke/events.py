"""The events of one stroke, fitted: takeaway, top (with its pause), contact, finish."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pacewright.core.errors import QualityError
from pacewright.stroke.contact import ContactFit, Swing, fit_contact, fit_passing
from pacewright.stroke.find import STILL_ENOUGH_S, RoughStroke
from pacewright.stroke.launch import Departure
from pacewright.stroke.motion import HeadMotion
from pacewright.stroke.rest import RestFit, Side, fit_rest

FEWEST_SAMPLES = 6
LOG_ODDS_RECORDED_IS_PUTT = 1.1
"""Three putts for each rehearsal stroke among what is recorded: a prior of ours, no source."""
CLEAR_LOG_ODDS = 2.0
_STILL_WINDOW_S = 0.35
_PLACE_SD_M = 0.003
_ONSET_HALF_RANGE_S = 0.14


@dataclass(frozen=True, slots=True)
class FittedEvents:
    """What the fits say of one stroke; ``finish`` is None when its end was not recorded."""

    takeaway: RestFit
    top: RestFit
    contact: ContactFit
    finish: RestFit | None
    had_still_address: bool
    met_a_ball: bool
    ball_is_clear: bool

    @property
    def takeaway_s(self) -> float:
        """Where the backswing leaves rest."""
        return self.takeaway.start_of_departure_s

    @property
    def finish_s(self) -> float:
        """Where the head first comes to rest after contact."""
        return self.finish.end_of_arrival_s if self.finish is not None else float("nan")


def fit_events(motion: HeadMotion, rough: RoughStroke, ball: Departure | None = None) -> FittedEvents:
    """Fit the events of a stroke found at ``rough``. Raises QualityError when too few samples are there."""
    noise = _noise_guess(motion, rough)
    swing, centre_s = _rough_swing(motion, rough)
    top = _fit_top(motion, rough, swing, centre_s, noise)
    contact = _fit_contact(motion, rough, top, swing, centre_s, ball)
    takeaway = _not_seen(_fit_takeaway(motion, rough, top, noise), motion, top)
    log_odds = contact.log_odds_of_ball + LOG_ODDS_RECORDED_IS_PUTT
    met_a_ball = ball is not None or log_odds > 0
    if not met_a_ball:
        contact = _fit_passing(motion, rough, top, swing, takeaway)
    finish = _fit_finish(motion, rough, contact)
    still = rough.still_s >= STILL_ENOUGH_S
    is_clear = ball is not None or abs(log_odds) > CLEAR_LOG_ODDS
    return FittedEvents(takeaway, top, contact, finish, still, met_a_ball, is_clear)


def _noise_guess(motion: HeadMotion, rough: RoughStroke) -> float:
    """Scatter of the samples about their neighbours' cubic, from fourth differences."""
    y = motion.observed[motion.between(rough.onset_s - 0.3, rough.end_s + 0.3)]
    if y.size < FEWEST_SAMPLES:
        raise QualityError(
            f"The stroke near {rough.onset_s:.2f} s has {y.size} samples; at least {FEWEST_SAMPLES} are "
            "needed. Record at 60 samples a second or more."
        )
    fourth = np.diff(y, 4)
    return max(float(np.median(np.abs(fourth)) / 0.6745 / np.sqrt(70.0)), motion.least_noise, 1e-6)


def _rough_swing(motion: HeadMotion, rough: RoughStroke) -> tuple[Swing, float]:
    """Downswing length and time and speed at contact, and when the head passes its place there."""
    top_s = (rough.top_s[0] + rough.top_s[1]) / 2
    x_top = motion.position_at(top_s)
    place = motion.position_at(rough.onset_s) if motion.place_m is None else motion.place_m
    if not rough.passes_start and motion.place_m is None:
        place = (x_top + motion.position_at(rough.end_s)) / 2
    down = motion.between(rough.top_s[1], rough.end_s)
    past = np.flatnonzero(motion.position_m[down] >= place)
    centre_s = float(motion.time_s[down][past[0]]) if past.size else rough.end_s
    time_s = max(centre_s - rough.top_s[1], 0.08)
    length = max(place - x_top, 0.02)
    return Swing(length, time_s, 1.6 * length / time_s), centre_s


def _place(motion: HeadMotion, rough: RoughStroke) -> float | None:
    """Where contact is expected: at the ball's place, or just past the head's at address."""
    if motion.place_m is not None:
        return motion.place_m
    return motion.position_at(rough.onset_s) + 0.004 if rough.passes_start else None


def _fit_top(motion: HeadMotion, rough: RoughStroke, swing: Swing, contact_s: float, noise: float) -> RestFit:
    first, last = rough.top_s
    arrival = Side(0.4 * swing.length_m, 0.45 * max(rough.backswing_time_s, 0.2))
    departure = Side(0.4 * swing.length_m, 0.8 * (contact_s - last))
    window = motion.between(first - arrival.window_s, last + departure.window_s)
    slow = last - first
    return fit_rest(
        motion.time_s[window], motion.observed[window], noise,
        centre_s=(first + last) / 2, half_range_s=min(0.05 + slow / 4, 0.2),
        arrival=arrival, departure=departure, longest_pause_s=float(np.clip(2.0 * slow, 0.08, 1.0)),
        derivative=motion.derivative, least_noise_sd=motion.least_noise,
    )  # fmt: skip


def _fit_contact(
    motion: HeadMotion, rough: RoughStroke, top: RestFit, swing: Swing, centre_s: float,
    ball: Departure | None,
) -> ContactFit:  # fmt: skip
    half_range_s = float(np.clip(0.05 / swing.speed_m_s, 0.02, 0.06))
    if ball is not None:
        centre_s = ball.time_s
    time_s = max(centre_s - top.start_of_departure_s, 0.06)
    after_s = min(0.12, max(rough.end_s - centre_s, 0.04))
    window = motion.between(centre_s - 0.85 * time_s, centre_s + after_s)
    return fit_contact(
        motion.time_s[window], motion.observed[window], top.noise_sd, swing,
        centre_s=centre_s, half_range_s=min(half_range_s, 0.4 * time_s, 0.7 * after_s),
        place_m=_place(motion, rough), derivative=motion.derivative,
        seen_to_leave=None if ball is None else (ball.time_s, ball.time_sd_s),
    )  # fmt: skip


def _fit_passing(
    motion: HeadMotion, rough: RoughStroke, top: RestFit, swing: Swing, takeaway: RestFit
) -> ContactFit:
    """Without a ball: the motion where the head passes its place at address."""
    if motion.place_m is not None:
        place = motion.place_m
    elif motion.derivative:
        place = motion.position_at(takeaway.start_of_departure_s)
    else:
        place = takeaway.rest_value
    passing_s = _first_above(motion, top.start_of_departure_s, rough.end_s, place)
    around_s = 0.7 * max(passing_s - top.start_of_departure_s, 0.06)
    window = motion.between(passing_s - around_s, min(passing_s + around_s, rough.end_s))
    t, y = motion.time_s[window], motion.observed[window]
    fit = fit_passing(t, y, top.noise_sd, swing, passing_s=passing_s, derivative=motion.derivative)
    if motion.derivative == 0:
        passing_s -= (float(fit.state[0]) - place) / float(fit.state[1])
        fit = fit_passing(t, y, fit.noise_sd, swing, passing_s=passing_s, derivative=0)
    # Not knowing the place to 3 mm is not knowing the time, and with it the speed and the acceleration.
    slopes = np.array([1.0, fit.state[1], fit.state[2], 0.0, fit.state[2]])
    fit.covariance[:] += np.outer(slopes, slopes) * (_PLACE_SD_M / float(fit.state[1])) ** 2
    return fit


def _fit_takeaway(motion: HeadMotion, rough: RoughStroke, top: RestFit, noise: float) -> RestFit:
    top_s = top.end_of_arrival_s
    backswing_s = max(top_s - rough.onset_s, 0.1)
    x_start, x_top = motion.position_at(rough.onset_s), motion.position_at(top_s)
    half_way = _first_below(motion, rough.onset_s, top_s, (x_start + x_top) / 2)
    departure = Side(0.5 * abs(x_start - x_top), max(half_way - rough.onset_s + 0.04, 0.08))
    start_s = rough.onset_s - min(rough.still_s, _STILL_WINDOW_S)
    if rough.still_s >= STILL_ENOUGH_S and not _moves_slowly(motion, start_s, rough.onset_s - 0.12, noise):
        window = motion.between(start_s, half_way)
        centre_s = rough.onset_s - 0.04
        half_range = min(_ONSET_HALF_RANGE_S, centre_s - start_s + 0.04)
        return fit_rest(
            motion.time_s[window], motion.observed[window], noise, centre_s=centre_s,
            half_range_s=half_range, arrival=None, departure=departure, derivative=motion.derivative,
            least_noise_sd=motion.least_noise,
        )  # fmt: skip
    creeping = rough.still_s >= STILL_ENOUGH_S
    slow_s = min(rough.still_s, _STILL_WINDOW_S)
    before_s = slow_s if creeping else slow_s + min(0.2, 0.4 * backswing_s)
    window = motion.between(rough.onset_s - before_s, half_way)
    earlier = motion.between(rough.onset_s - before_s, rough.onset_s if creeping else half_way)
    arrival = Side(max(float(np.ptp(motion.position_m[earlier])) / 2, 0.001 if creeping else 0.005), before_s)
    return fit_rest(
        motion.time_s[window], motion.observed[window], noise,
        centre_s=rough.onset_s - slow_s / 2 if not creeping else rough.onset_s - 0.05,
        half_range_s=0.11 if creeping else 0.06,
        arrival=arrival, departure=departure, longest_pause_s=float(np.clip(1.5 * slow_s, 0.08, 0.35)),
        derivative=motion.derivative, departure_near=(rough.onset_s - 0.04, 0.06),
        least_noise_sd=motion.least_noise,
    )  # fmt: skip


def _not_seen(takeaway: RestFit, motion: HeadMotion, top: RestFit) -> RestFit:
    """A takeaway reckoned back to before the first sample: how long it took till then is not known, and its
    uncertainty is half of what was seen of the backswing besides.
    """
    first_s = float(motion.time_s[0])
    if takeaway.start_of_departure_s >= first_s:
        return takeaway
    unseen_s = 0.5 * (top.end_of_arrival_s - first_s) + first_s - takeaway.start_of_departure_s
    return replace(takeaway, covariance_s2=takeaway.covariance_s2 + np.eye(2) * unseen_s**2)


def _moves_slowly(motion: HeadMotion, start_s: float, end_s: float, noise: float) -> bool:
    """Whether a head that counts as still creeps about, as in a small forward press, more than its noise."""
    window = motion.between(start_s, end_s)
    t, y = motion.time_s[window], motion.observed[window]
    block = max(round(0.02 * motion.rate_hz), 1)
    count = y.size // block
    if count < 4:
        return False
    means = y[: count * block].reshape(count, block).mean(axis=1)
    times = t[: count * block].reshape(count, block).mean(axis=1)
    left = means - np.polynomial.Polynomial.fit(times, means, 1)(times)
    scatter = float(np.sqrt(left @ left / (count - 2)))
    return bool(scatter > 2.0 * noise / np.sqrt(block))


def _fit_finish(motion: HeadMotion, rough: RoughStroke, contact: ContactFit) -> RestFit | None:
    """The head's arrival at rest; None when the recording ends before that."""
    if motion.time_s[-1] < rough.end_s + 0.03:
        return None
    x_contact, x_end = motion.position_at(contact.time_s), motion.position_at(rough.end_s)
    half_way = _first_above(motion, contact.time_s, rough.end_s, (x_contact + x_end) / 2)
    window_s = max(rough.end_s - half_way + 0.04, 0.08)
    arrival = Side(max(0.5 * abs(x_end - x_contact), 0.01), window_s)
    turns_back = rough.hold_s < STILL_ENOUGH_S
    hold_s = min(rough.hold_s, 0.3) + (0.15 if turns_back else 0.0)
    window = motion.between(half_way, rough.end_s + hold_s)
    if window.stop - window.start < FEWEST_SAMPLES:
        return None
    finish = fit_rest(
        motion.time_s[window], motion.observed[window], contact.noise_sd,
        centre_s=rough.end_s + (rough.hold_s / 2 if turns_back else 0.04),
        half_range_s=0.06 if turns_back else min(_ONSET_HALF_RANGE_S, hold_s),
        arrival=arrival, departure=Side(arrival.size, 0.2) if turns_back else None,
        longest_pause_s=0.1, derivative=motion.derivative, least_noise_sd=motion.least_noise,
    )  # fmt: skip
    return finish if finish.end_of_arrival_s > contact.time_s + 0.02 else None


def _first_below(motion: HeadMotion, start_s: float, end_s: float, level_m: float) -> float:
    return _first(motion, start_s, end_s, motion.position_m <= level_m)


def _first_above(motion: HeadMotion, start_s: float, end_s: float, level_m: float) -> float:
    return _first(motion, start_s, end_s, motion.position_m >= level_m)


def _first(motion: HeadMotion, start_s: float, end_s: float, reached: NDArray[np.bool_]) -> float:
    window = motion.between(start_s, end_s)
    hits = np.flatnonzero(reached[window])
    return float(motion.time_s[window][hits[0]]) if hits.size else end_s
