"""Did practice work: two sessions compared, with the change of spread as the one headline.

Numbers in, decisions out. The headline is the spread of length error alone, chosen beforehand; every
other change is corrected for being one of several. Method page: docs/methods/progress.md.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from pacewright.coaching.evidence import between_days, critical_t, holm, log_evidence_mean
from pacewright.coaching.outcomes import arrays, measure_arrays
from pacewright.coaching.session_fit import LEAST_PUTTS, SessionFit, fit_session, log_errors
from pacewright.coaching.spread_change import (
    FALSE_ALARM,
    Rule,
    Span,
    SpreadChange,
    Verdict,
    log_evidence,
    spread_change,
    spread_ratio_limits,
    verdict_ratio,
)
from pacewright.core.errors import QualityError
from pacewright.core.measure import Remark
from pacewright.core.outcome import Putt

FloatArray = NDArray[np.float64]

PHASES = ("retention", "transfer", "learning")
"""Kinds of block, the one that decides first: what lasted counts before what showed in practice."""
STROKE_MEASURES = ("time_ratio", "downswing_time_s", "backswing_time_s")
DRIFT_MEASURE = "downswing_time_s"
LENGTHS_DIFFER_LOG = 0.35
"""Mean log length of two sessions further apart than this (a factor 1.4) are not like with like."""


@dataclass(frozen=True, slots=True)
class SessionPutts:
    """The putts of one session in the order played.

    ``asked_m`` (n,), ``finish_along_m`` (n,) with nan for a holed putt without an estimated finish;
    ``measures`` by registry name, each (n,) with nan where missing; ``phase`` (n,) words of `PHASES`
    or empty.
    """

    asked_m: FloatArray
    finish_along_m: FloatArray
    measures: Mapping[str, FloatArray] = field(default_factory=dict)
    phase: tuple[str, ...] = ()

    @classmethod
    def of(cls, putts: Sequence[Putt]) -> SessionPutts:
        """From putts in the order played; a block named after a phase counts as that phase."""
        data = arrays(putts)
        words = ((putt.phase or putt.block).lower() for putt in putts)
        return cls(
            data.asked_m,
            data.finish_along_m,
            {name: _measure_values(putts, name) for name in STROKE_MEASURES},
            tuple(word if word in PHASES else "" for word in words),
        )

    def of_phase(self, wanted: str) -> SessionPutts | None:
        """The putts of one phase, None when there are none."""
        keep = np.array([word == wanted for word in self.phase], dtype=bool)
        if not keep.any():
            return None
        return SessionPutts(
            self.asked_m[keep],
            self.finish_along_m[keep],
            {name: values[keep] for name, values in self.measures.items()},
        )


@dataclass(frozen=True, slots=True)
class SessionSummary:
    """One session: putts, holed ones without a finish, spread and mean error as a share of the distance."""

    putts: int
    holed_unseen: int
    mishits: int
    spread_share: float
    mean_error_share: Span
    fit: SessionFit


@dataclass(frozen=True, slots=True)
class Change:
    """A change beside the headline.

    ``unit`` is ``share`` (a difference, as a share of the distance or of the figure) or ``ratio`` (after over
    before). ``detectable`` is the smallest change that would have shown with this many putts, in that unit.
    ``chance`` and ``is_clear`` are after Holm's correction over all of them.
    """

    name: str
    unit: str
    span: Span
    detectable: float
    chance: float
    is_clear: bool


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two sessions compared; ``phases`` holds the change of spread of each further kind of block."""

    rule: Rule
    phase: str
    spread: SpreadChange
    before: SessionSummary
    after: SessionSummary
    changes: tuple[Change, ...]
    phases: Mapping[str, SpreadChange]
    remarks: tuple[Remark, ...]


def compare_sessions(before: SessionPutts, after: SessionPutts, rule: Rule = "every putt") -> Comparison:
    """Compare two sessions; see `Comparison`.

    Where the later session names its phases, retention decides, else transfer, else learning; the others
    are reported apart. Raises QualityError when a session is too short for a spread.
    """
    found = [(word, after.of_phase(word)) for word in PHASES]
    kinds = [(word, putts) for word, putts in found if putts is not None]
    phase, second = kinds[0] if kinds else ("", after)
    first = _baseline(before, phase)
    one, two = _summary(first, "session before"), _summary(second, "session after")
    others = {
        word: _spread_of_phase(_baseline(before, word), putts, rule)
        for word, putts in kinds[1:]
        if putts.asked_m.size >= LEAST_PUTTS
    }
    return Comparison(
        rule=rule,
        phase=phase,
        spread=spread_change(one.fit, two.fit, rule),
        before=one,
        after=two,
        changes=_other_changes(first, second, one, two),
        phases=_corrected(others),
        remarks=tuple(_remarks(first, second, one, two)),
    )


def _measure_values(putts: Sequence[Putt], name: str) -> FloatArray:
    """Values of a measure; the time ratio is formed where only its two times were noted."""
    values, _ = measure_arrays(putts, name)
    if name == "time_ratio":
        back, _ = measure_arrays(putts, "backswing_time_s")
        down, _ = measure_arrays(putts, "downswing_time_s")
        values = np.where(np.isfinite(values), values, back / down)
    return values


def _baseline(before: SessionPutts, phase: str) -> SessionPutts:
    """What a phase is compared with: the same phase before, else the putts of no phase, else all."""
    if not phase:
        return before
    return before.of_phase(phase) or before.of_phase("") or before


def _summary(putts: SessionPutts, name: str) -> SessionSummary:
    fit = fit_session(putts.asked_m, log_errors(putts.asked_m, putts.finish_along_m), name)
    reach = fit.mean_error_sd * critical_t(fit.freedom, float(fit.putts), 2.0 * FALSE_ALARM)
    return SessionSummary(
        putts=fit.putts,
        holed_unseen=int(np.sum(~fit.is_seen)),
        mishits=fit.mishits,
        spread_share=fit.spread,
        mean_error_share=Span(fit.mean_error, fit.mean_error - reach, fit.mean_error + reach),
        fit=fit,
    )


def _spread_of_phase(before: SessionPutts, after: SessionPutts, rule: Rule) -> SpreadChange:
    return spread_change(_summary(before, "session before").fit, _summary(after, "session after").fit, rule)


def _corrected(found: Mapping[str, SpreadChange]) -> dict[str, SpreadChange]:
    """Verdicts of the further phases after Holm's correction, each direction by itself."""
    better = holm([change.chance_better for change in found.values()])
    worse = holm([change.chance_worse for change in found.values()])
    corrected = {}
    for (word, change), up, down in zip(found.items(), better, worse, strict=True):
        holds = (up if change.verdict == "better" else down) <= FALSE_ALARM
        verdict: Verdict = change.verdict if holds else "unclear"
        corrected[word] = replace(change, verdict=verdict, chance_better=up, chance_worse=down)
    return corrected


def _other_changes(
    before: SessionPutts, after: SessionPutts, one: SessionSummary, two: SessionSummary
) -> tuple[Change, ...]:
    """Changes beside the headline that both sessions carry, corrected for their number."""
    found = [_mean_change("mean_error_share", one.fit, two.fit)]
    for name in STROKE_MEASURES:
        fits = _fits_of_measure(name, before, after)
        if fits is not None:
            found.append(_mean_change(f"{name}_mean", *fits))
            found.append(_measure_spread_change(f"{name}_spread", *fits))
    if DRIFT_MEASURE in before.measures and DRIFT_MEASURE in after.measures:
        drifts = [_drift(putts.asked_m, putts.measures[DRIFT_MEASURE]) for putts in (before, after)]
        if drifts[0] is not None and drifts[1] is not None:
            found.append(_drift_change(drifts[0], drifts[1]))
    adjusted = holm([change.chance for change in found])
    return tuple(
        replace(change, chance=chance, is_clear=chance <= FALSE_ALARM)
        for change, chance in zip(found, adjusted, strict=True)
    )


def _fits_of_measure(
    name: str, before: SessionPutts, after: SessionPutts
) -> tuple[SessionFit, SessionFit] | None:
    """Fits of the log of a measure in both sessions; None where either has too few or no spread."""
    fits = []
    for putts in (before, after):
        values = putts.measures.get(name)
        if values is None:
            return None
        known = np.isfinite(values) & (values > 0.0)
        try:
            fits.append(fit_session(putts.asked_m[known], np.log(values[known]), name))
        except QualityError:
            return None
    return fits[0], fits[1]


def _mean_change(name: str, before: SessionFit, after: SessionFit) -> Change:
    """Change of the mean of a log figure, near enough a share of it (Welch's freedom, a day's own bias)."""
    first, second = before.mean_error_sd**2, after.mean_error_sd**2
    freedom = (first + second) ** 2 / (first**2 / before.freedom + second**2 / after.freedom)
    size = 1.0 / (1.0 / before.putts + 1.0 / after.putts)
    difference = after.mean_error - before.mean_error
    sd, size = between_days(math.sqrt(first + second), size)
    return _mean_like_change(name, difference, sd, freedom, size)


def _mean_like_change(name: str, difference: float, sd: float, freedom: float, size: float) -> Change:
    reach = sd * critical_t(freedom, size, 2.0 * FALSE_ALARM)
    evidence = log_evidence_mean(difference / sd, freedom, size)
    return Change(
        name=name,
        unit="share",
        span=Span(difference, difference - reach, difference + reach),
        detectable=reach,
        chance=math.exp(-max(evidence, 0.0)),
        is_clear=False,
    )


def _measure_spread_change(name: str, before: SessionFit, after: SessionFit) -> Change:
    low, high = spread_ratio_limits(before, after)
    evidence = max(log_evidence(before, after), log_evidence(after, before))
    return Change(
        name=name,
        unit="ratio",
        span=Span(after.spread / before.spread, low, high),
        detectable=verdict_ratio(before.freedom, after.freedom),
        chance=min(1.0, 2.0 * math.exp(-evidence)),
        is_clear=False,
    )


@dataclass(frozen=True, slots=True)
class _Drift:
    """Drift of a log figure over ten putts with its standard error and freedom; n putts."""

    per_ten_putts: float
    sd: float
    freedom: float
    putts: int


def _drift(asked_m: FloatArray, values: FloatArray) -> _Drift | None:
    """Slope of the log of a measure in the order of the putts; None under six putts."""
    known = np.isfinite(values) & (values > 0.0)
    order = np.flatnonzero(known) / 10.0
    if order.size < 6:
        return None
    columns = [np.ones(order.size), order]
    log_asked = np.log(asked_m[known])
    if float(np.ptp(log_asked)) > 0.05:
        columns.append(log_asked)
    design = np.column_stack(columns)
    log_values = np.log(values[known])
    found = np.linalg.lstsq(design, log_values, rcond=None)[0]
    residual = log_values - design @ found
    freedom = order.size - design.shape[1]
    variance = float(residual @ residual) / freedom * float(np.linalg.pinv(design.T @ design)[1, 1])
    if variance <= 0.0:
        return None
    return _Drift(float(found[1]), math.sqrt(variance), float(freedom), order.size)


def _drift_change(before: _Drift, after: _Drift) -> Change:
    first, second = before.sd**2, after.sd**2
    freedom = (first + second) ** 2 / (first**2 / before.freedom + second**2 / after.freedom)
    size = 1.0 / (1.0 / before.putts + 1.0 / after.putts)
    return _mean_like_change(
        f"{DRIFT_MEASURE}_drift_per_ten_putts",
        after.per_ten_putts - before.per_ten_putts,
        math.sqrt(first + second),
        freedom,
        size,
    )


def _remarks(
    before: SessionPutts, after: SessionPutts, one: SessionSummary, two: SessionSummary
) -> list[Remark]:
    """What a coach has to know about the two sessions before believing the verdict."""
    remarks = []
    apart = float(np.mean(np.log(after.asked_m)) - np.mean(np.log(before.asked_m)))
    if abs(apart) > LENGTHS_DIFFER_LOG:
        remarks.append(
            Remark(
                "lengths-differ",
                "The two sessions asked for different lengths; part of the change may be the lengths. "
                "Test again over the lengths of the first session.",
            )
        )
    for name, summary in (("before", one), ("after", two)):
        remarks.extend(_session_remarks(name, summary))
    return remarks


def _session_remarks(name: str, summary: SessionSummary) -> list[Remark]:
    remarks = []
    fit = summary.fit
    if math.isfinite(fit.trend):
        remarks.append(
            Remark(
                f"order-{name}",
                f"The session {name} was not level: {_order_words(fit)}. "
                "The spread is taken about that drift.",
            )
        )
    if summary.mishits:
        count = f"{summary.mishits} putts lie" if summary.mishits > 1 else "1 putt lies"
        remarks.append(
            Remark(
                f"mishits-{name}",
                f"{count} far from the rest in the session {name}; counted as far, not by how far.",
            )
        )
    if summary.holed_unseen:
        count = "1 holed putt" if summary.holed_unseen == 1 else f"{summary.holed_unseen} holed putts"
        remarks.append(
            Remark(
                f"holed-{name}",
                f"{count} in the session {name} without a noted pace: counted as having reached the hole. "
                "Noting how far past it would have run tells more.",
            )
        )
    return remarks


def _order_words(fit: SessionFit) -> str:
    parts = []
    if abs(fit.warm_up) >= 0.02:
        way = "longer" if fit.warm_up > 0 else "shorter"
        parts.append(f"the first putts ran about {abs(fit.warm_up):.0%} {way}")
    if abs(fit.trend) >= 0.02:
        way = "longer" if fit.trend > 0 else "shorter"
        parts.append(f"from first to last the putts grew about {abs(fit.trend):.0%} {way}")
    return " and ".join(parts) or "the putts drifted a little"
