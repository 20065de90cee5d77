"""Use case: two sessions of putts become a verdict on the change of spread."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pacewright.app.outcomes_csv import read_putts
from pacewright.coaching import progress_words
from pacewright.coaching.progress import Change, Comparison, SessionPutts, SessionSummary, compare_sessions
from pacewright.coaching.spread_change import Rule, SpreadChange
from pacewright.core.measure import Remark
from pacewright.core.outcome import Putt

SCHEMA = "pacewright.comparison/1"


@dataclass(frozen=True, slots=True)
class Progress:
    """A comparison with its words: the verdict, why, the further phases, the other changes as rows."""

    comparison: Comparison
    statement: str
    explanation: tuple[str, ...]
    phases: tuple[str, ...]
    rows: tuple[tuple[str, str, str, str], ...]
    remarks: tuple[Remark, ...]

    @property
    def head(self) -> tuple[str, ...]:
        """Heads of the columns of ``rows``."""
        return progress_words.CHANGE_HEAD


def compare_files(before: str | Path, after: str | Path, *, one_look: bool = False) -> Progress:
    """Compare two tables of putts. Raises ReadError for a bad table, QualityError for a short session."""
    first, second = read_putts(before), read_putts(after)
    found = compare_putts(first.putts, second.putts, one_look=one_look)
    remarks = tuple(dict.fromkeys((*first.remarks, *second.remarks, *found.remarks)))
    return Progress(found.comparison, found.statement, found.explanation, found.phases, found.rows, remarks)


def compare_putts(before: Sequence[Putt], after: Sequence[Putt], *, one_look: bool = False) -> Progress:
    """Compare two sessions of putts, each in the order played.

    By default the verdict may be asked for after every putt. ``one_look`` is for a number of putts fixed
    beforehand and looked at once: it sees smaller changes. Raises QualityError for a short session.
    """
    rule: Rule = "one look" if one_look else "every putt"
    found = compare_sessions(SessionPutts.of(before), SessionPutts.of(after), rule)
    return Progress(
        comparison=found,
        statement=progress_words.statement(found),
        explanation=tuple(progress_words.explanation(found)),
        phases=tuple(progress_words.phase_sentence(word, change) for word, change in found.phases.items()),
        rows=tuple(progress_words.change_row(change) for change in found.changes),
        remarks=found.remarks,
    )


def progress_dict(progress: Progress) -> dict[str, Any]:
    """What ``compare --json`` prints; a limit that the putts do not give is null."""
    from pacewright.render.export import json_ready

    found = progress.comparison
    body = {
        "schema": SCHEMA,
        **_spread_dict(found.spread),
        "rule": found.rule,
        "phase": found.phase or None,
        "before": _session_dict(found.before),
        "after": _session_dict(found.after),
        "phases": {word: _spread_dict(change) for word, change in found.phases.items()},
        "changes": [_change_dict(change) for change in found.changes],
        "statement": progress.statement,
        "explanation": list(progress.explanation),
        "notes": [{"code": remark.code, "text": remark.text} for remark in progress.remarks],
    }
    ready = json_ready(body)
    assert isinstance(ready, dict)
    return ready


def _spread_dict(change: SpreadChange) -> dict[str, Any]:
    ratio = change.ratio
    return {
        "verdict": change.verdict,
        "spread_ratio": {"value": ratio.value, "low": ratio.low, "high": ratio.high},
        "detectable_ratio": change.detectable_ratio,
        "verdict_ratio": change.verdict_ratio,
        "putts_to_settle": change.putts_to_settle,
    }


def _session_dict(session: SessionSummary) -> dict[str, Any]:
    mean = session.mean_error_share
    return {
        "putts": session.putts,
        "holed_without_pace": session.holed_unseen,
        "spread_share": session.spread_share,
        "mean_error_share": {"value": mean.value, "low": mean.low, "high": mean.high},
        "warm_up_share": session.fit.warm_up,
        "trend_share": session.fit.trend,
    }


def _change_dict(change: Change) -> dict[str, Any]:
    span = change.span
    return {
        "name": change.name,
        "unit": change.unit,
        "value": span.value,
        "low": span.low,
        "high": span.high,
        "detectable": change.detectable,
        "adjusted_chance": change.chance,
        "clear": change.is_clear,
    }
