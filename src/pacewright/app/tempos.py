"""Use case: blocks of putts at several beats become a choice of beat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pacewright.app.outcomes_csv import read_putts
from pacewright.coaching import tempo_words
from pacewright.coaching.tempo import BeatResult, TempoChoice, blocks_of, search_tempo
from pacewright.core.measure import Remark
from pacewright.core.outcome import Putt

SCHEMA = "pacewright.tempo/1"


@dataclass(frozen=True, slots=True)
class BeatFound:
    """A choice of beat with its words."""

    choice: TempoChoice
    statement: str
    explanation: tuple[str, ...]
    rows: tuple[tuple[str, str, str, str, str], ...]
    remarks: tuple[Remark, ...]

    @property
    def head(self) -> tuple[str, ...]:
        """Heads of the columns of ``rows``."""
        return tempo_words.BEAT_HEAD


def find_beat_in_file(path: str | Path) -> BeatFound:
    """Choose a beat from a table of putts with a column ``beats_per_minute``, in the order played.

    Raises ReadError for a bad table, QualityError when a beat has too few putts.
    """
    table = read_putts(path, needs=("beats_per_minute",))
    return find_beat(table.putts, table.remarks)


def find_beat(putts: Sequence[Putt], remarks: Sequence[Remark] = ()) -> BeatFound:
    """Choose a beat from putts in the order played; putts without a beat are left out."""
    choice = search_tempo(blocks_of(putts))
    return BeatFound(
        choice=choice,
        statement=tempo_words.statement(choice),
        explanation=tuple(tempo_words.explanation(choice)),
        rows=tuple(tempo_words.beat_row(result) for result in choice.beats),
        remarks=tuple(remarks),
    )


def tempo_dict(search: BeatFound) -> dict[str, Any]:
    """What ``tempo --json`` prints."""
    from pacewright.render.export import json_ready

    choice = search.choice
    median, low, high = choice.cost_ten_beats
    body = {
        "schema": SCHEMA,
        "beats_per_minute": choice.beats_per_minute,
        "probability_best": choice.probability_best,
        "next_beats_per_minute": choice.next_beats_per_minute,
        "verdict": choice.verdict,
        "by_comfort": choice.by_comfort,
        "probability_beat_matters": choice.matters_chance,
        "spread_growth_ten_beats_off": {"value": median, "low": low, "high": high},
        "putts": choice.putts,
        "beats": [_beat_dict(result) for result in choice.beats],
        "statement": search.statement,
        "explanation": list(search.explanation),
        "notes": [{"code": remark.code, "text": remark.text} for remark in search.remarks],
    }
    ready = json_ready(body)
    assert isinstance(ready, dict)
    return ready


def _beat_dict(result: BeatResult) -> dict[str, Any]:
    return {
        "beats_per_minute": result.beats_per_minute,
        "putts": result.putts,
        "spread_share": {
            "value": result.spread_share,
            "low": result.spread_low,
            "high": result.spread_high,
        },
        "comfort": result.comfort,
        "probability_best": result.probability_best,
    }
