"""Use case: putts of a drill become a score, and scores a history."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pacewright.app.outcomes_csv import read_putts
from pacewright.coaching.drill_words import drill_sentences, history_sentences
from pacewright.coaching.drills import DrillHistory, DrillScore, drill_history, score_drill
from pacewright.core.display import Units


@dataclass(frozen=True, slots=True)
class ScoredDrill:
    """A score with its words."""

    score: DrillScore
    sentences: tuple[str, ...]


def score_drill_file(
    path: str | Path, name: str, date: datetime.date, units: Units = "metric"
) -> ScoredDrill:
    """Score a table of putts as one go at the drill ``name``. Raises ReadError, QualityError."""
    scored = score_drill(read_putts(path).putts, name, date)
    return ScoredDrill(scored, tuple(drill_sentences(scored, units)))


def history_of(scores: Sequence[DrillScore]) -> tuple[DrillHistory, tuple[str, ...]]:
    """The history of goes at one drill with its words. Raises QualityError under two goes."""
    history = drill_history(scores)
    return history, tuple(history_sentences(history))
