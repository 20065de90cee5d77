"""Where the putts finished: quick entry, and scores of length and of line.

Length and line are scored apart (Neumann and Thomas 2008): constant error (the bias), variable error (the
spread about it) and absolute error (how far off a putt is), as shares of the distance asked. A holed putt
whose pace was not noted is a censored observation: it reached the hole and did not fly over it; it is not
a putt without error. Method page: docs/methods/outcomes.md.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.coaching.censored import CensoredFit, fit_censored
from pacewright.core.equipment import HOLE_RADIUS_M
from pacewright.core.errors import QualityError, SettingsError
from pacewright.core.outcome import Outcome, Putt
from pacewright.core.units import parse_length

FloatArray = NDArray[np.float64]

CAPTURED_AT_MOST_PAST_M = 2.4
"""A ball the hole takes would have run at most this far past it: 1.63 m/s at the rim (Holmes, Am. J. Phys.
59:129, 1991) on a green of 10 ft, where a rolling ball loses 0.549 m/s each second."""
LEAST_PUTTS = 2

_IN = re.compile(r"^(?:in|holed|hole|h)$", re.IGNORECASE)
_HOLED_PAST = re.compile(r"^(?:in|holed|hole|h)[\s,]+(.+?)\s*(?:past|beyond|by|long|left)?$", re.IGNORECASE)
_ZERO = re.compile(r"^[+-]?0+(?:[.,]0*)?$")
_SIDED = re.compile(r"^(.+?)\s+(short|past|long|beyond)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class PuttArrays:
    """n putts as arrays, all (n,) and in the order played.

    ``finish_along_m`` is nan for a holed putt whose pace was not noted; ``finish_across_m`` and
    ``guess_along_m`` are nan where not noted; ``holed`` is true for every holed putt.
    """

    asked_m: FloatArray
    finish_along_m: FloatArray
    finish_across_m: FloatArray
    guess_along_m: FloatArray
    holed: NDArray[np.bool_]

    @property
    def length_error(self) -> FloatArray:
        """(roll-out − asked) / asked, nan for a censored putt."""
        return self.finish_along_m / self.asked_m - 1.0


@dataclass(frozen=True, slots=True)
class ErrorScore:
    """Errors as shares of the distance asked: ``constant`` ± ``constant_sd``, ``variable`` with its 90 %
    interval, ``absolute``. ``putts`` count, of which ``censored`` only gave limits."""

    putts: int
    censored: int
    constant: float
    constant_sd: float
    variable: float
    variable_low: float
    variable_high: float
    absolute: float


@dataclass(frozen=True, slots=True)
class GuessScore:
    """How well the player felt where the ball finished, before looking.

    ``bias`` and ``spread`` of (guess − finish) as shares of the distance; ``correlation`` of guessed with
    true error, with its 90 % interval: near 1 the player feels the misses, near 0 not.
    """

    putts: int
    bias: float
    spread: float
    correlation: float
    correlation_low: float
    correlation_high: float


@dataclass(frozen=True, slots=True)
class Score:
    """Scores of some putts: ``line`` and ``guess`` are None where nothing was noted of them."""

    putts: int
    holed: int
    length: ErrorScore
    line: ErrorScore | None
    guess: GuessScore | None


def parse_outcome(text: str, asked_m: float) -> Outcome:
    """What someone by the hole calls out, for a putt of ``asked_m``.

    ``+2ft`` past the hole, ``-40cm`` short of it (also ``2ft past``, ``40cm short``); ``in`` or ``holed``;
    ``holed 1ft past`` with the pace it had left. Raises SettingsError with the text and what would do.
    """
    cleaned = text.strip().replace("−", "-").replace("–", "-")
    if _IN.match(cleaned):
        return Outcome(holed=True)
    if past := _HOLED_PAST.match(cleaned):
        beyond_m = _length(past[1], text)
        if beyond_m < 0.0:
            raise SettingsError(f"'{text}': a holed putt reached the hole; give the pace left as 1ft past.")
        return Outcome(asked_m + beyond_m, holed=True)
    if sided := _SIDED.match(cleaned):
        sign = -1.0 if sided[2].lower() == "short" else 1.0
        return Outcome(_not_behind(asked_m + sign * abs(_length(sided[1], text)), text))
    if cleaned[:1] not in {"+", "-"} and not _ZERO.match(cleaned):
        raise SettingsError(f"'{text}' does not say past or short; write +2ft, -40cm, in, or holed 1ft past.")
    return Outcome(_not_behind(asked_m + _length(cleaned, text), text))


def _length(part: str, text: str) -> float:
    if _ZERO.match(part):
        return 0.0
    try:
        return parse_length(part)
    except SettingsError:
        raise SettingsError(
            f"'{text}' is not where a putt finished; write +2ft, -40cm, in, or holed 1ft past."
        ) from None


def _not_behind(along_m: float, text: str) -> float:
    if along_m <= 0.0:
        raise SettingsError(f"'{text}' puts the ball behind where it started; check the length and its unit.")
    return along_m


def holed_outcome(asked_m: float, along_m: float | None, across_m: float | None = None) -> Outcome:
    """Outcome of a holed putt from a table that may give the hole's own place as the finish.

    Within the hole's radius of the distance asked, the figure is the hole and not the pace left.
    """
    if along_m is not None and along_m <= asked_m + HOLE_RADIUS_M:
        along_m = None
    return Outcome(along_m, across_m, holed=True)


def arrays(putts: Sequence[Putt]) -> PuttArrays:
    """The putts as arrays."""

    def column(values: list[float | None]) -> FloatArray:
        return np.array([math.nan if value is None else value for value in values], dtype=float)

    return PuttArrays(
        np.array([putt.asked_m for putt in putts], dtype=float),
        column([putt.outcome.along_m for putt in putts]),
        column([putt.outcome.across_m for putt in putts]),
        column([putt.guess_along_m for putt in putts]),
        np.array([putt.outcome.holed for putt in putts], dtype=bool),
    )


def measure_arrays(putts: Sequence[Putt], name: str) -> tuple[FloatArray, FloatArray]:
    """Values and standard uncertainties (n,) of a measure of the stroke, nan where not known."""
    values = np.array([putt.value(name) for putt in putts], dtype=float)
    return values, np.array([putt.sd(name) for putt in putts], dtype=float)


def score(putts: Sequence[Putt]) -> Score:
    """Score length and line. Raises QualityError with fewer than two putts or no finish at all."""
    if len(putts) < LEAST_PUTTS:
        one = "There is 1 putt" if len(putts) == 1 else f"There are {len(putts)} putts"
        raise QualityError(f"{one}; a score needs {LEAST_PUTTS} or more.")
    data = arrays(putts)
    if not np.isfinite(data.finish_along_m).any():
        raise QualityError(
            "Every putt was holed and no pace was noted, so there is no length error to score; "
            "note the pace left (holed 1ft past), or putt to a line."
        )
    return Score(
        putts=len(putts),
        holed=int(data.holed.sum()),
        length=_length_score(data),
        line=_line_score(data),
        guess=_guess_score(data),
    )


def _length_score(data: PuttArrays) -> ErrorScore:
    error = data.length_error
    fit = fit_censored(error, np.zeros(error.size), CAPTURED_AT_MOST_PAST_M / data.asked_m)
    return _error_score(fit, int(np.sum(~np.isfinite(error))))


def _line_score(data: PuttArrays) -> ErrorScore | None:
    """Errors across the line; a holed putt without a finish was within the hole's radius of it."""
    noted = np.isfinite(data.finish_across_m)
    if int(noted.sum()) < LEAST_PUTTS:
        return None
    counted = noted | data.holed
    error = (data.finish_across_m / data.asked_m)[counted]
    half = (HOLE_RADIUS_M / data.asked_m)[counted]
    return _error_score(fit_censored(error, -half, half), int(np.sum(~np.isfinite(error))))


def _error_score(fit: CensoredFit, censored: int) -> ErrorScore:
    low, high = sd_interval(fit.sd, fit.freedom)
    return ErrorScore(
        putts=fit.value.size,
        censored=censored,
        constant=fit.mean,
        constant_sd=fit.mean_sd,
        variable=fit.sd,
        variable_low=low,
        variable_high=high,
        absolute=float(np.abs(fit.value).mean()),
    )


def sd_interval(sd: float, freedom: float, level: float = 0.90) -> tuple[float, float]:
    """Interval of a standard deviation with ``freedom`` degrees of freedom (χ², normal errors)."""
    from scipy.special import chdtri

    tail = (1.0 - level) / 2.0
    return (
        sd * math.sqrt(freedom / float(chdtri(freedom, tail))),
        sd * math.sqrt(freedom / float(chdtri(freedom, 1.0 - tail))),
    )


def _guess_score(data: PuttArrays) -> GuessScore | None:
    both = np.isfinite(data.guess_along_m) & np.isfinite(data.finish_along_m)
    count = int(both.sum())
    if count < 4:
        return None
    guessed = data.guess_along_m[both] / data.asked_m[both] - 1.0
    true = data.length_error[both]
    miss = guessed - true
    if float(np.ptp(guessed)) == 0.0 or float(np.ptp(true)) == 0.0:
        correlation = low = high = math.nan
    else:
        correlation = float(np.corrcoef(guessed, true)[0, 1])
        reach = 1.645 / math.sqrt(count - 3)
        middle = math.atanh(min(max(correlation, -0.999999), 0.999999))
        low, high = math.tanh(middle - reach), math.tanh(middle + reach)
    return GuessScore(count, float(miss.mean()), float(miss.std(ddof=1)), correlation, low, high)
