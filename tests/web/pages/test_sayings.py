"""Findings in German: every sentence that the rules can say, with its figures, and nothing by halves."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from pacewright.coaching.bands import RULES
from pacewright.coaching.findings import find
from pacewright.coaching.norms import norms
from pacewright.coaching.own_baseline import _FIGURES
from pacewright.coaching.repeats import _KINDS
from pacewright.coaching.stories import STORIES
from pacewright.core.finding import Finding
from pacewright.core.measure import Remark
from pacewright.simulate.habits import Habits, strokes_of
from pacewright.web.pages.sayings import sayings
from tests.coaching.test_findings import CASES, RUSHED, TEN, THREE_LENGTHS

GERMAN = sayings("de")
TWO_LENGTHS = [1.0] * 10 + [9.0] * 10


def _fixed() -> Iterator[str]:
    """What the rules say whatever the figures are."""
    for story in STORIES:
        yield from (story.statement, story.cause, story.advice)
    for kind in _KINDS:
        yield from (kind.statement, kind.cause, kind.advice)
    for rule in RULES:
        for side in (rule.low, rule.high):
            yield from (side.statement, side.cause, side.advice)
            yield f"At 0.91 m (3 ft) and 9.14 m (30 ft) {side.statement[0].lower()}{side.statement[1:]}"
        yield norms()[rule.norm_id].source


@pytest.mark.parametrize("text", sorted(set(_fixed())))
def test_every_sentence_of_the_rules_is_there_in_german(text: str) -> None:
    assert GERMAN is not None
    said = GERMAN(text)
    assert said
    assert not re.search(r"\b(the|and|of|is)\b", said)


def _findings() -> Iterator[Finding]:
    usual = strokes_of(Habits(), np.random.default_rng(9), THREE_LENGTHS)
    for habits in (*CASES.values(), RUSHED, Habits()):
        for asked in (TEN, THREE_LENGTHS, TWO_LENGTHS, [None] * 10, TEN[:3]):
            strokes = strokes_of(habits, np.random.default_rng(3), asked)
            for baseline in ([], usual):
                yield from find(strokes, baseline=baseline)


def test_every_finding_on_made_up_players_is_said_in_german_with_its_figures() -> None:
    assert GERMAN is not None
    found = list(_findings())
    assert len({finding.id for finding in found}) >= 15
    for finding in found:
        for text in (finding.statement, finding.evidence, finding.cause, finding.advice, finding.source):
            said = GERMAN(text)
            assert said is not None, text
            assert sorted(re.findall(r"[\d.]+\d", said)) == sorted(re.findall(r"[\d.]+\d", text))


def test_figures_that_are_left_out_are_said_too() -> None:
    assert GERMAN is not None
    strokes = strokes_of(Habits(), np.random.default_rng(3), TEN)
    for code in ("too-few-samples", "gap", "contact-not-clear"):
        poor = [replace(stroke, quality=(Remark(code, ""),)) for stroke in strokes[:2]]
        left_out = next(one for one in find([*poor, *strokes[2:]]) if one.id == "strokes-left-out")
        assert GERMAN(left_out.statement) == "2 Putts wegen der Güte weggelassen."
        assert "(2 Putts)" in str(GERMAN(left_out.evidence))


def test_all_changes_from_the_baseline_are_words() -> None:
    assert GERMAN is not None
    for figure in _FIGURES:
        for words in (figure.less, figure.more):
            assert GERMAN(f"The stroke is not this player's usual one: {words}.")
        assert GERMAN(f"{figure.label[0].upper()}{figure.label[1:]} 1.2 ± 0.1 before, 1.4 now, over 9 putts.")


def test_what_is_not_known_stays_as_it_is() -> None:
    assert GERMAN is not None
    assert GERMAN("The moon is full.") is None
    assert GERMAN("The backswing is quick. The moon is full.") is None
    assert GERMAN("") == ""
    assert sayings("en") is None
