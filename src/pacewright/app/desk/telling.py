"""Budget, beat and progress of stored putts, in words of JSON that can be kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from pacewright.app.budgets import budget_dict, budget_putts
from pacewright.app.progress import compare_putts, progress_dict
from pacewright.app.tempos import find_beat, tempo_dict
from pacewright.core.errors import QualityError, SettingsError
from pacewright.core.outcome import Putt

LEAST_PUTTS = 5
LEAST_PUTTS_OF_A_DAY = 5


def story_figures(putts: Sequence[Putt], sessions: Mapping[str, tuple[str, str]]) -> dict[str, Any]:
    """The figures of a story from putts in the order played; ``sessions`` gives id and day of each label."""
    by_session: dict[str, list[Putt]] = {}
    for putt in putts:
        by_session.setdefault(putt.session, []).append(putt)
    return {
        "budget": _told(lambda: _budget(putts)),
        "tempo": _told(lambda: _tempo(putts)),
        "progress": _told(lambda: _progress(by_session)),
        "days": [_day(label, of_day, sessions) for label, of_day in by_session.items() if label in sessions],
    }


def _told(tell: Callable[[], dict[str, Any]]) -> dict[str, Any]:
    """What ``tell`` says, or why there is nothing to say."""
    try:
        return tell()
    except (QualityError, SettingsError) as error:
        return {"body": None, "statement": str(error), "explanation": [], "rows": {}}


def _budget(putts: Sequence[Putt]) -> dict[str, Any]:
    if len(putts) < LEAST_PUTTS:
        raise QualityError(f"There are {len(putts)} putts; a budget needs {LEAST_PUTTS} or more.")
    report = budget_putts(putts)
    return {
        "body": budget_dict(report),
        "statement": report.statement,
        "explanation": [*report.sentences(), *report.further_sentences()],
        "rows": {units: report.cause_rows(units) for units in ("metric", "imperial")},
    }


def _tempo(putts: Sequence[Putt]) -> dict[str, Any]:
    found = find_beat(putts)
    rows = list(found.rows)
    return {
        "body": tempo_dict(found),
        "statement": found.statement,
        "explanation": list(found.explanation),
        "rows": {"metric": rows, "imperial": rows},
    }


def _progress(by_session: Mapping[str, Sequence[Putt]]) -> dict[str, Any]:
    """The last session with enough putts against the one before."""
    long_enough = [of_day for of_day in by_session.values() if len(of_day) >= LEAST_PUTTS_OF_A_DAY]
    if len(long_enough) < 2:
        raise QualityError("Two sessions of putts are wanted to tell progress.")
    progress = compare_putts(long_enough[-2], long_enough[-1])
    rows = list(progress.rows)
    return {
        "body": progress_dict(progress),
        "statement": progress.statement,
        "explanation": [*progress.explanation, *progress.phases],
        "rows": {"metric": rows, "imperial": rows},
    }


def _day(label: str, putts: Sequence[Putt], sessions: Mapping[str, tuple[str, str]]) -> dict[str, Any]:
    from pacewright.coaching.outcomes import score

    identifier, held_on = sessions[label]
    spread = bias = None
    if len(putts) >= LEAST_PUTTS_OF_A_DAY:
        try:
            scored = score(putts)
            spread, bias = scored.length.variable, scored.length.constant
        except QualityError:
            pass
    return {
        "session_id": identifier, "held_on": held_on, "putts": len(putts), "spread_share": spread,
        "bias_share": bias,
    }  # fmt: skip
