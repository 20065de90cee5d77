"""Use case: a table of putts becomes an error budget, scores, what mending brings, and a player model."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pacewright.app.outcomes_csv import read_putts
from pacewright.coaching import budget_words, player_words
from pacewright.coaching.budget import Cause, ErrorBudget, error_budget
from pacewright.coaching.judgement import JudgementSplit
from pacewright.coaching.on_the_green import FIRST_PUTTS, HALF_HOLED_FT, Holing, RoundOutcome
from pacewright.coaching.outcomes import ErrorScore, Score, score
from pacewright.coaching.player_model import PlayerModel, data_from_putts, fit_player_model
from pacewright.coaching.terms import terms
from pacewright.coaching.what_if import Course, Payoff, line_spread, payoffs, usual_payoffs
from pacewright.core.display import Units
from pacewright.core.errors import QualityError, SettingsError
from pacewright.core.measure import Measure, Remark
from pacewright.core.outcome import Putt

SCHEMA = "pacewright.budget/1"


@dataclass(frozen=True, slots=True)
class BudgetOptions:
    """How to judge: the length at which lengths are stated (None: the middle one asked), what-ifs as cause
    and factor, first putts of a round as (length in m, how many), whose holing, the surface's own spread."""

    at_length_m: float | None = None
    what_if: Mapping[str, float] = field(default_factory=dict)
    first_putts: tuple[tuple[float, float], ...] = FIRST_PUTTS
    holing: Holing = "amateur"
    green_spread: float | None = None


@dataclass(frozen=True, slots=True)
class BudgetReport:
    """An error budget with what belongs beside it.

    ``model`` and ``score`` are None where the data do not carry one. ``payoffs`` are empty without shares,
    and with too few putts unless they were asked for.
    """

    budget: ErrorBudget
    at_length_m: float
    score: Score | None
    payoffs: tuple[Payoff, ...]
    model: PlayerModel | None
    options: BudgetOptions
    remarks: tuple[Remark, ...]

    @property
    def has_shares(self) -> bool:
        """Whether there are shares to show: of two causes or more."""
        return not math.isnan(self.budget.spread_share) and len(self.budget.names) > 1

    @property
    def statement(self) -> str:
        """The answer in one sentence."""
        return budget_words.statement(self.budget)

    def cause_head(self, units: Units) -> tuple[str, ...]:
        """Heads of the table of causes."""
        return budget_words.cause_head(self.at_length_m, units)

    @property
    def payoff_head(self) -> tuple[str, ...]:
        """Heads of the table of what-ifs."""
        return budget_words.PAYOFF_HEAD

    def cause_rows(self, units: Units) -> list[tuple[str, str, str, str, str]]:
        """Rows of the table of causes."""
        return [budget_words.cause_row(cause, self.at_length_m, units) for cause in self.budget.causes]

    def payoff_rows(self) -> list[tuple[str, str, str, str]]:
        """Rows of the table of what-ifs."""
        return budget_words.payoff_rows(self.payoffs)

    def sentences(self) -> list[str]:
        """What the budget rests on."""
        return budget_words.explanation(self.budget, self.score)

    def further_sentences(self) -> list[str]:
        """Scores, luck in the what-ifs, and the player's own law."""
        sentences = budget_words.payoff_notes(self.payoffs)
        if self.score is not None:
            sentences += budget_words.other_scores(self.score)
        if self.model is not None:
            sentences += player_words.model_sentences(self.model)
        return sentences


def budget_file(path: str | Path, options: BudgetOptions | None = None) -> BudgetReport:
    """The budget of a table of putts, in the order played.

    Raises ReadError for a bad table, SettingsError for a what-if of a cause that was not measured.
    """
    table = read_putts(path)
    return budget_putts(table.putts, options, remarks=table.remarks)


def budget_files(
    paths: Sequence[str | Path], options: BudgetOptions | None = None, *, workers: int | None = None
) -> list[BudgetReport]:
    """The budgets of many players, one table each, on ``workers`` processes (None: one for each core).

    In the order of ``paths``. Raises as `budget_file` does, for the first table that is at fault.
    """
    from concurrent.futures import ProcessPoolExecutor
    from functools import partial

    if workers == 1 or len(paths) < 2:
        return [budget_file(path, options) for path in paths]
    with ProcessPoolExecutor(workers) as pool:
        chunk = max(len(paths) // 64, 1)
        return list(pool.map(partial(budget_file, options=options), paths, chunksize=chunk))


def budget_putts(
    putts: Sequence[Putt], options: BudgetOptions | None = None, *, remarks: Sequence[Remark] = ()
) -> BudgetReport:
    """As `budget_file`, from putts in memory."""
    options = options or BudgetOptions()
    budget = error_budget(putts, green_spread=options.green_spread)
    scored = _score(putts)
    has_payoffs = budget.enough or (bool(options.what_if) and not math.isnan(budget.spread_share))
    return BudgetReport(
        budget=budget,
        at_length_m=options.at_length_m or statistics.median(putt.asked_m for putt in putts),
        score=scored,
        payoffs=_payoffs(budget, putts, scored, options) if scored is not None and has_payoffs else (),
        model=_model(putts),
        options=options,
        remarks=(*remarks, *budget.remarks),
    )


def _score(putts: Sequence[Putt]) -> Score | None:
    try:
        return score(putts)
    except QualityError:
        return None


def _model(putts: Sequence[Putt]) -> PlayerModel | None:
    try:
        return fit_player_model(data_from_putts(putts))
    except QualityError:
        return None


def _payoffs(
    budget: ErrorBudget, putts: Sequence[Putt], scored: Score, options: BudgetOptions
) -> tuple[Payoff, ...]:
    course = Course(line_spread(scored, options.holing), options.first_putts, options.holing)
    if options.what_if:
        return payoffs(budget, options.what_if, course)
    return usual_payoffs(budget, terms(putts), course)


def budget_dict(report: BudgetReport) -> dict[str, Any]:
    """What ``budget --json`` prints; figures that are not known are null."""
    from pacewright.render.export import json_ready

    budget = report.budget
    body = {
        "schema": SCHEMA,
        "putts": budget.putts,
        "left_out": budget.left_out,
        "holed_without_pace": budget.censored,
        "enough": budget.enough,
        "putts_needed": budget.putts_needed,
        "spread_share": budget.spread_share,
        "spread_interval": {"low": budget.spread_low, "high": budget.spread_high},
        "bias_share": budget.bias_share,
        "shares": {cause.name: _share_dict(cause) for cause in budget.causes},
        "at_length_m": report.at_length_m,
        "spread_m": budget.spread_share * report.at_length_m,
        "causes": [_cause_dict(cause, report.at_length_m) for cause in budget.causes],
        "judgement": _judgement_dict(budget.judgement),
        "what_if": [_payoff_dict(one) for one in report.payoffs],
        "first_putts": [{"length_m": length, "count": n} for length, n in report.options.first_putts],
        "holing": report.options.holing,
        "score": _score_dict(report.score),
        "player_model": _model_dict(report.model),
        "statement": report.statement,
        "explanation": [*report.sentences(), *report.further_sentences()],
        "notes": [{"code": remark.code, "text": remark.text} for remark in report.remarks],
    }
    ready = json_ready(body)
    assert isinstance(ready, dict)
    return ready


def _share_dict(cause: Cause) -> dict[str, float | None]:
    share = cause.share
    if share is None:
        return {"value": None, "low": None, "high": None}
    return {"value": share.value, "low": share.low, "high": share.high}


def _cause_dict(cause: Cause, length_m: float) -> dict[str, Any]:
    return {
        "name": cause.name,
        "counted_in": cause.counted_in or None,
        "spread_share": cause.spread_share,
        "spread_m": cause.spread_share * length_m,
        "spread_share_without": cause.spread_without,
    }


def _judgement_dict(split: JudgementSplit | None) -> dict[str, Any] | None:
    if split is None:
        return None
    return {
        "reading": {"value": split.reading, "low": split.reading_low, "high": split.reading_high},
        "execution": split.execution,
        "green": split.green,
        "mixed_spread_share": split.mixed_spread,
        "repeated_spread_share": split.repeated_spread,
        "mixed_putts": split.mixed_putts,
        "repeated_putts": split.repeated_putts,
    }


def _payoff_dict(one: Payoff) -> dict[str, Any]:
    return {
        "cause": one.cause,
        "factor": one.factor,
        "reason": one.reason,
        "chance_by_luck": one.spells.chance if one.spells is not None else None,
        "spread_share_now": one.spread_now,
        "spread_share_then": one.spread_then,
        "round_now": _round_dict(one.round_now),
        "round_then": _round_dict(one.round_then),
    }


def _round_dict(outcome: RoundOutcome) -> dict[str, float]:
    return {
        "first_putts": outcome.first_putts,
        "left_outside_3ft": outcome.left_outside,
        "three_putts": outcome.three_putts,
        "putts": outcome.putts,
    }


def _score_dict(scored: Score | None) -> dict[str, Any] | None:
    if scored is None:
        return None
    guess = scored.guess
    return {
        "putts": scored.putts,
        "holed": scored.holed,
        "length": _error_dict(scored.length),
        "line": _error_dict(scored.line) if scored.line is not None else None,
        "guess": None
        if guess is None
        else {
            "putts": guess.putts,
            "bias_share": guess.bias,
            "spread_share": guess.spread,
            "correlation": {
                "value": guess.correlation,
                "low": guess.correlation_low,
                "high": guess.correlation_high,
            },
        },
    }


def _error_dict(error: ErrorScore) -> dict[str, Any]:
    return {
        "constant_share": Measure(error.constant, error.constant_sd),
        "variable_share": {
            "value": error.variable,
            "low": error.variable_low,
            "high": error.variable_high,
        },
        "absolute_share": error.absolute,
        "censored": error.censored,
    }


def _model_dict(model: PlayerModel | None) -> dict[str, Any] | None:
    if model is None:
        return None
    return {
        "strokes": model.strokes,
        "sessions": model.sessions,
        "swing_constant": model.constant,
        "at_backswing_length_m": model.reference_length_m,
        "length_exponent": model.length_exponent,
        "spread_share": model.spread,
        "session_spread_share": model.session_spread,
        "length_spread_share": model.length_spread,
        "ball_speed_ratio": model.ratio,
        "ball_speed_ratio_spread_share": model.ratio_spread,
        "downswing_time_s": model.downswing_time,
        "time_with_length": None
        if model.time is None
        else {
            "exponent": model.time.exponent,
            "bayes_factor": model.time.bayes_factor,
            "words": model.time.words,
        },
        "checks": [
            {"name": check.name, "chance": check.chance, "text": check.text or None} for check in model.checks
        ],
    }


def check_holing(text: str) -> Holing:
    """``amateur`` or ``tour``; raises SettingsError for anything else."""
    for known in HALF_HOLED_FT:
        if text == known:
            return known
    raise SettingsError(f"'{text}' is not whose holing is known; use amateur or tour.")
