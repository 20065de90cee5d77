"""The search for a beat."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pacewright.coaching import tempo_words
from pacewright.coaching.tempo import TempoBlock, TempoChoice, blocks_of, search_tempo
from pacewright.core.errors import QualityError
from pacewright.core.outcome import Outcome, Putt


def _block(beat: float, spread: float, seed: int, putts: int = 10, comfort: float = math.nan) -> TempoBlock:
    asked = np.full(putts, 6.0)
    errors = spread * np.random.default_rng(seed).normal(size=putts)
    return TempoBlock(beat, asked, asked * np.exp(errors), comfort)


def _valley(
    best: float, rise: float, beats: tuple[float, ...], seed: int, putts: int = 10
) -> list[TempoBlock]:
    return [
        _block(beat, 0.08 * math.exp(rise * ((beat - best) / 10.0) ** 2), seed + k, putts)
        for k, beat in enumerate(beats)
    ]


def _said(choice: TempoChoice) -> str:
    return " ".join([tempo_words.statement(choice), *tempo_words.explanation(choice)])


GRID = (74.0, 82.0, 90.0, 98.0, 106.0)


def test_plenty_of_putts_settle_the_beat() -> None:
    choices = [search_tempo(_valley(84.0, 0.25, GRID * 4, seed=100 * k, putts=30)) for k in range(8)]
    settled = [choice for choice in choices if choice.verdict == "settled"]
    assert len(settled) >= 6
    for choice in settled:
        assert abs(choice.beats_per_minute - 84.0) <= 4.0
        assert choice.probability_best >= 0.8
        assert choice.next_beats_per_minute == choice.beats_per_minute
        assert "Settled" in _said(choice)


def test_ten_putts_a_beat_cannot_usually_be_told_apart() -> None:
    """Beats that do not matter: settled is never said, and mostly they cannot be told apart."""
    verdicts = [search_tempo(_valley(90.0, 0.0, (80.0, 90.0, 100.0), seed=10 * k)).verdict for k in range(40)]
    assert "settled" not in verdicts
    assert verdicts.count("cannot be told apart") >= 34


def test_comfort_decides_where_the_putts_do_not() -> None:
    marks = {80.0: 3.0, 90.0: 2.0, 100.0: 5.0}
    blocks = [_block(beat, 0.08, seed=100 + k, comfort=mark) for k, (beat, mark) in enumerate(marks.items())]
    choice = search_tempo(blocks)
    assert choice.verdict == "cannot be told apart"
    assert choice.by_comfort
    assert choice.beats_per_minute == 100.0
    assert "most comfortable" in _said(choice)


def test_without_comfort_the_player_is_asked() -> None:
    choice = search_tempo(_valley(90.0, 0.0, (80.0, 90.0, 100.0), seed=7))
    assert not choice.by_comfort
    assert "feels best" in _said(choice)


def test_it_beats_choosing_the_best_block_at_equal_putts() -> None:
    """A small seeded run of validation/tempo.py."""
    rng = np.random.default_rng(3)
    search = naive = 0
    for k in range(60):
        best = float(rng.uniform(74.0, 106.0))
        choice = search_tempo(_valley(best, 0.15, GRID * 2, seed=1000 + 20 * k))
        lucky = min(choice.beats, key=lambda one: one.spread_share).beats_per_minute
        search += abs(choice.beats_per_minute - best) <= 4.0
        naive += abs(lucky - best) <= 4.0
    assert search >= 1.3 * naive
    assert search >= 36


def test_chances_are_chances_and_the_best_beat_has_the_most() -> None:
    choice = search_tempo(_valley(90.0, 0.2, GRID, seed=5, putts=40))
    for result in choice.beats:
        assert 0.0 <= result.probability_best <= choice.probability_best <= 1.0
        assert result.spread_low < result.spread_share < result.spread_high
    low, high = choice.cost_ten_beats[1:]
    assert low < math.expm1(0.2) < high


def test_the_order_of_equal_blocks_does_not_move_the_answer_far() -> None:
    blocks = _valley(86.0, 0.25, GRID, seed=9, putts=40)
    forward, backward = search_tempo(blocks), search_tempo(blocks[::-1])
    assert abs(forward.beats_per_minute - backward.beats_per_minute) <= 4.0


def test_the_next_beat_stays_near_those_tried() -> None:
    for seed in range(10):
        choice = search_tempo(_valley(90.0, 0.1, (82.0, 90.0, 98.0), seed=seed))
        assert 74.0 <= choice.next_beats_per_minute <= 106.0


def test_one_beat_asks_for_another() -> None:
    choice = search_tempo([_block(90.0, 0.08, seed=1)])
    assert choice.verdict == "keep going"
    assert choice.next_beats_per_minute != 90.0
    assert "only one beat" in _said(choice)


def test_short_blocks_are_refused_by_name() -> None:
    with pytest.raises(QualityError, match="block at 82 beats a minute has 2 putts"):
        search_tempo([_block(90.0, 0.08, 1), _block(82.0, 0.08, 2, putts=2)])
    with pytest.raises(QualityError, match="no blocks"):
        search_tempo([])


def test_putts_become_blocks_in_the_order_played() -> None:
    beats = [90.0] * 4 + [80.0] * 4 + [90.0] * 4
    putts = [Putt(6.0, Outcome(6.0 + 0.1 * k), beats_per_minute=b, comfort=3.0) for k, b in enumerate(beats)]
    blocks = blocks_of([*putts, Putt(6.0, Outcome(6.0))])
    assert [block.beats_per_minute for block in blocks] == [90.0, 80.0, 90.0]
    assert [block.asked_m.size for block in blocks] == [4, 4, 4]
    assert blocks[0].comfort == 3.0
    mixed = blocks_of(sorted(putts, key=lambda putt: hash(str(putt.outcome.along_m))))
    assert sum(block.asked_m.size for block in mixed) == 12
