"""Use case: putts of a drill become a score, and scores a history."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pacewright.app.outcomes_csv import read_putts
from pacewright.coaching.drill_words import drill_sentences, history_sentences
from pacewright.coaching.drills import DrillHistory, DrillScore, TimingScore, drill_history, score_drill
from pacewright.core.display import Units
from pacewright.core.measure import Measure, Remark

SCHEMA = "pacewright.drill/1"


@dataclass(frozen=True, slots=True)
class ScoredDrill:
    """A score with its words, and remarks on the table."""

    score: DrillScore
    sentences: tuple[str, ...]
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True)
class DrillReport:
    """A go at a drill and, where earlier goes were given, the history with it: ``history`` and its words."""

    drill: ScoredDrill
    history: DrillHistory | None = None
    history_words: tuple[str, ...] = ()


def score_drill_file(
    path: str | Path, name: str, date: datetime.date | None = None, units: Units = "metric"
) -> ScoredDrill:
    """Score a table of putts as one go at the drill ``name``. Raises ReadError, QualityError."""
    table = read_putts(path)
    scored = score_drill(table.putts, name, date)
    return ScoredDrill(scored, tuple(drill_sentences(scored, units)), table.remarks)


def history_of(scores: Sequence[DrillScore]) -> tuple[DrillHistory, tuple[str, ...]]:
    """The history of goes at one drill with its words. Raises QualityError under two goes."""
    history = drill_history(scores)
    return history, tuple(history_sentences(history))


def drill_report(
    path: str | Path,
    name: str = "",
    date: datetime.date | None = None,
    *,
    earlier: Sequence[str | Path] = (),
    units: Units = "metric",
) -> DrillReport:
    """Score a go at a drill beside ``earlier`` goes (tables of putts, oldest first).

    Raises ReadError, QualityError.
    """
    drill = score_drill_file(path, name or Path(path).stem, date, units)
    if not earlier:
        return DrillReport(drill)
    before = [score_drill(read_putts(one).putts, drill.score.name) for one in earlier]
    history, words = history_of([*before, drill.score])
    return DrillReport(drill, history, words)


def drill_dict(report: DrillReport) -> dict[str, Any]:
    """What ``drill --json`` prints; figures that are not known are null."""
    from pacewright.render.export import json_ready

    score, length = report.drill.score, report.drill.score.length
    body = {
        "schema": SCHEMA,
        "drill": score.name,
        "date": None if score.date is None else score.date.isoformat(),
        "putts": score.putts,
        "holed": score.holed,
        "holed_without_pace": length.censored,
        "lengths_m": list(score.lengths_m),
        "inside_share": _span_dict(score.inside),
        "spread_share": {
            "value": length.variable,
            "low": length.variable_low,
            "high": length.variable_high,
        },
        "bias_share": Measure(length.constant, length.constant_sd),
        "absolute_share": length.absolute,
        "timing": _timing_dict(score.timing),
        "history": _history_dict(report.history),
        "explanation": [*report.drill.sentences, *report.history_words],
        "notes": [{"code": remark.code, "text": remark.text} for remark in report.drill.remarks],
    }
    ready = json_ready(body)
    assert isinstance(ready, dict)
    return ready


def _timing_dict(timing: TimingScore | None) -> dict[str, Any] | None:
    if timing is None:
        return None
    return {
        "strokes": timing.strokes,
        "time_ratio": timing.time_ratio,
        "time_ratio_spread_share": timing.time_ratio_spread,
        "downswing_time_spread_share": timing.downswing_spread,
        "on_beat_share": _span_dict(timing.on_beat),
    }


def _history_dict(history: DrillHistory | None) -> dict[str, Any] | None:
    if history is None:
        return None
    return {
        "goes": [
            {"putts": one.putts, "spread_share": one.length.variable, "inside_share": one.inside.value}
            for one in history.scores
        ],
        "typical_change_log": history.typical_error,
        "detectable_change_share": history.detectable,
        "trend_share_a_go": _span_dict(history.trend),
    }


def _span_dict(span: Any) -> dict[str, float] | None:
    return None if span is None else {"value": span.value, "low": span.low, "high": span.high}
