"""Use case: tables of putts become the answers of a report."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from pacewright.app.budgets import BudgetReport, budget_putts
from pacewright.app.outcomes_csv import PuttTable, read_putts
from pacewright.app.progress import Progress, compare_putts
from pacewright.app.tempos import BeatFound, find_beat
from pacewright.coaching.budget_words import label
from pacewright.coaching.spread_change import SpreadChange
from pacewright.core.display import Units
from pacewright.core.errors import SettingsError
from pacewright.core.measure import Remark
from pacewright.core.registry import MeasureDefinition
from pacewright.render.model import Answer, Figure, Table


@dataclass(frozen=True, slots=True)
class PuttTables:
    """Tables of putts for a report: the session, one ``before`` it to compare with, ``blocks`` at beats."""

    putts: Path | None = None
    before: Path | None = None
    blocks: Path | None = None

    @property
    def is_empty(self) -> bool:
        """Whether there is no table."""
        return self.putts is None and self.before is None and self.blocks is None


DEFINITIONS = {
    "shares": (
        MeasureDefinition("share", "", "Share of a cause",
            "Its part in the variance of the distance, with half of what it has in common with others.",
            "error-budget"),
        MeasureDefinition("alone", "", "Alone, and without it",
            "What a cause scatters the ball by if all else were steady; the spread left if it were steady.",
            "error-budget"),
        MeasureDefinition("round", "", "Left outside 3 ft, three-putts",
            "Expected over the 18 first putts of a round, by a model of putting at a hole.", "on-the-green"),
    ),
    "change": (
        MeasureDefinition("change", "", "Change of spread",
            "Spread of length error now over that before; holed putts count as having reached the hole.",
            "progress"),
    ),
    "beat": (
        MeasureDefinition("beat", "", "Beat to use",
            "Lowest point of a shallow valley of the spread over the beat, fitted to all blocks together.",
            "tempo-search"),
    ),
}  # fmt: skip
SPREAD = MeasureDefinition(
    "spread", "", "Spread", "Standard deviation of the distance rolled, as a share of the distance asked.",
    "outcomes",
)  # fmt: skip


def putts_answers(tables: PuttTables, units: Units) -> tuple[Answer, ...]:
    """Answers of the tables: did practice work, why the distance varies, which beat.

    Raises ReadError for a bad table, QualityError for putts too few, SettingsError for a table before without
    one after.
    """
    if tables.before is not None and tables.putts is None:
        raise SettingsError("A table before needs one to compare with; give --putts as well.")
    answers = []
    if tables.putts is not None:
        now = read_putts(tables.putts)
        if tables.before is not None:
            answers.append(_change(read_putts(tables.before), now))
        answers.append(_shares(now, units))
    if tables.blocks is not None:
        answers.append(_beat(read_putts(tables.blocks, needs=("beats_per_minute",))))
    return tuple(answers)


def answer_definitions(answers: Iterable[Answer]) -> tuple[MeasureDefinition, ...]:
    """What the figures of the answers mean."""
    found = [definition for answer in answers for definition in DEFINITIONS[answer.question]]
    return (SPREAD, *found) if found else ()


def _shares(table: PuttTable, units: Units) -> Answer:
    report = budget_putts(table.putts, remarks=table.remarks)
    return Answer(
        question="shares",
        source=f"From {_told(table)}.",
        statement=report.statement,
        sentences=tuple(report.sentences()),
        tables=_budget_tables(report, units),
        further=tuple(report.further_sentences()),
        notes=_texts(report.remarks),
        figures=tuple(
            Figure(label(report.budget, c.name).capitalize(), c.share.value, c.share.low, c.share.high)
            for c in report.budget.causes
            if c.share is not None and report.has_shares
        ),
    )


def _budget_tables(report: BudgetReport, units: Units) -> tuple[Table, ...]:
    tables = []
    if report.has_shares:
        tables.append(Table(report.cause_head(units), tuple(report.cause_rows(units))))
    if report.payoffs:
        tables.append(Table(report.payoff_head, tuple(report.payoff_rows())))
    return tuple(tables)


def _change(before: PuttTable, now: PuttTable) -> Answer:
    progress = compare_putts(before.putts, now.putts)
    return Answer(
        question="change",
        source=f"{_told(now)}, against {_told(before)}.",
        statement=f"{progress.statement}",
        sentences=(*progress.explanation, *progress.phases),
        tables=(Table(progress.head, progress.rows),) if progress.rows else (),
        notes=_texts((*before.remarks, *now.remarks, *progress.remarks)),
        figures=_ratios(progress),
    )


def _ratios(progress: Progress) -> tuple[Figure, ...]:
    found = progress.comparison
    named: dict[str, SpreadChange] = {found.phase.capitalize() or "This session": found.spread}
    named |= {word.capitalize(): change for word, change in found.phases.items()}
    return tuple(
        Figure(name, change.ratio.value, change.ratio.low, change.ratio.high)
        for name, change in named.items()
        if change.ratio.low > 0.0 and math.isfinite(change.ratio.high)
    )


def _beat(table: PuttTable) -> Answer:
    found = find_beat(table.putts, table.remarks)
    return _beat_answer(found, f"From {_told(table)}.")


def _beat_answer(found: BeatFound, source: str) -> Answer:
    choice = found.choice
    return Answer(
        question="beat",
        source=source,
        statement=found.statement,
        sentences=found.explanation,
        tables=(Table(found.head, found.rows),),
        notes=_texts(found.remarks),
        figures=tuple(
            Figure(f"{one.beats_per_minute:g} beats", one.spread_share, one.spread_low, one.spread_high)
            for one in choice.beats
        ),
        places=tuple(one.beats_per_minute for one in choice.beats),
        chosen=choice.beats_per_minute,
    )


def _told(table: PuttTable) -> str:
    count = len(table.putts)
    return f"{table.source} ({count} {'putt' if count == 1 else 'putts'})"


def _texts(remarks: Iterable[Remark]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(remark.text for remark in remarks))
