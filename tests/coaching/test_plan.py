"""A practice plan: days, blocks, focus, reasons."""

from __future__ import annotations

import datetime
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.coaching.plan import (
    MOST_PUTTS_A_DAY,
    PlanRequest,
    choose_focus,
    practice_plan,
    session_dates,
    transfer_lengths,
)
from pacewright.coaching.plan_reasons import DRILLS, FOCUS_NAMES
from pacewright.coaching.spread_change import Span
from pacewright.core.errors import SettingsError
from pacewright.core.plan import PracticePlan, Strength

MONDAY = datetime.date(2026, 3, 2)
LENGTHS = (3.048, 6.096, 9.144)


def _plan(sessions: int = 8, **changes: object) -> PracticePlan:
    dates = session_dates(MONDAY, ("mon", "thu"), sessions=sessions)
    request: dict[str, object] = {"dates": dates, "lengths_m": LENGTHS, "beats_per_minute": 88.0, **changes}
    return practice_plan(PlanRequest(**request))  # type: ignore[arg-type]


def test_a_first_test_practice_and_a_retention_test_on_another_day() -> None:
    plan = _plan()
    assert [session.kind for session in plan.sessions] == ["first test", *["practice"] * 6, "retention test"]
    assert plan.sessions[-1].date is not None
    assert plan.sessions[-1].date > plan.sessions[-2].date  # type: ignore[operator]


def test_both_tests_are_alike_and_without_help() -> None:
    plan = _plan(test_putts=30)
    tests = [block for session in plan.sessions for block in session.blocks if "test" in block.title.lower()]
    first, retention, transfer = tests
    assert (first.putts, first.lengths_m) == (retention.putts, retention.lengths_m) == (30, LENGTHS)
    assert not set(transfer.lengths_m) & set(LENGTHS)
    for block in tests:
        assert (block.beat, block.markers, block.order) == ("off", False, "mixed")
        assert block.is_recorded


def test_blocked_start_then_mixed_and_help_fades() -> None:
    plan = _plan(sessions=9)
    practice = plan.sessions[1:-1]
    in_runs = [sum(b.putts for b in one.blocks if b.order == "runs of three") / one.putts for one in practice]
    assert in_runs == sorted(in_runs, reverse=True)
    assert in_runs[0] > 0.4 > 0.15 > in_runs[-1]
    assert any(block.beat == "on" for block in practice[0].blocks)
    assert all(block.beat == "off" and not block.markers for block in practice[-1].blocks)


def test_tasks_without_aids_do_not_ask_for_them() -> None:
    for session in _plan(sessions=12).sessions:
        for block in session.blocks:
            if block.beat == "off" and not block.markers:
                assert "marker" not in block.task.replace("as with the markers, now without them", "")


@given(
    st.integers(3, 20), st.integers(20, 90), st.integers(10, 60),
    st.lists(st.floats(0.5, 20.0), min_size=1, max_size=5),
)  # fmt: skip
def test_every_plan_keeps_to_its_limits(
    sessions: int, minutes: int, test_putts: int, lengths: list[float]
) -> None:
    plan = _plan(sessions, minutes=minutes, test_putts=test_putts, lengths_m=tuple(lengths))
    for session in plan.sessions:
        assert session.blocks
        assert all(block.putts > 0 for block in session.blocks)
        if session.kind == "practice":
            assert session.minutes <= minutes
            assert session.putts <= MOST_PUTTS_A_DAY
    assert plan.stop_rules
    assert plan.cautions


def test_focus_is_the_cause_that_is_known_to_be_the_largest() -> None:
    clear = {"length": Span(0.5, 0.4, 0.6), "timing": Span(0.2, 0.1, 0.3)}
    open_question = {"length": Span(0.4, 0.2, 0.6), "timing": Span(0.35, 0.2, 0.5)}
    assert choose_focus(clear, enough=True) == "length"
    assert choose_focus(clear, enough=False) == ""
    assert choose_focus(open_question, enough=True) == ""
    assert choose_focus({}, enough=True) == ""


def test_the_focus_runs_through_the_plan_and_its_share_is_said() -> None:
    plan = _plan(shares={"timing": Span(0.5, 0.4, 0.6), "length": Span(0.2, 0.1, 0.3)}, budget_enough=True)
    assert plan.focus == "timing"
    tasks = {block.task for session in plan.sessions for block in session.blocks}
    assert DRILLS["timing"].in_runs in tasks
    assert DRILLS["length"].in_runs not in tasks
    first = plan.choices[0]
    assert "50 %" in first.reason
    assert "40 % to 60 %" in first.reason


def test_without_a_focus_every_cause_has_its_turn() -> None:
    tasks = {block.task for session in _plan(sessions=12).sessions for block in session.blocks}
    for drill in DRILLS.values():
        assert tasks & {drill.in_runs, drill.mixed, drill.alone}
    assert set(DRILLS) == set(FOCUS_NAMES)


def test_every_choice_has_reason_evidence_and_source() -> None:
    for choice in _plan().choices:
        assert choice.choice.endswith(".")
        assert choice.reason.endswith(".")
        assert choice.source
        assert choice.strength in get_args(Strength)


def test_contested_and_missing_evidence_is_said() -> None:
    by_topic = {choice.topic: choice for choice in _plan().choices}
    assert by_topic["Order of putts"].strength == "mixed"
    assert "studies disagree" in by_topic["Order of putts"].reason
    assert "none was found" in by_topic["Beat"].reason
    assert by_topic["Amount"].strength == "our choice"


def test_what_the_tests_can_show_is_the_published_limit() -> None:
    """30 putts each: a ratio of 1.45, a fall by 31 % (derived, stroke-science reference)."""
    (tests,) = (choice for choice in _plan(test_putts=30).choices if choice.topic == "Tests")
    assert "31 %" in tests.reason


def test_care_is_in_every_plan() -> None:
    text = " ".join(_plan().cautions)
    for word in ("pain", "health professional", "jerk", "minor", "written consent", "safeguarding"):
        assert word in text


def test_days_of_the_week() -> None:
    dates = session_dates(MONDAY, ("thu", "Monday"), weeks=2)
    assert [day.isoformat() for day in dates] == ["2026-03-02", "2026-03-05", "2026-03-09", "2026-03-12"]
    assert len(session_dates(MONDAY, ("sun",), sessions=5)) == 5


@pytest.mark.parametrize(
    ("weekdays", "weeks", "message"),
    [(("foo",), 2, "day of the week"), (("mon",), 0, "weeks or of sessions")],
)
def test_days_that_make_no_sense(weekdays: tuple[str, ...], weeks: int, message: str) -> None:
    with pytest.raises(SettingsError, match=message):
        session_dates(MONDAY, weekdays, weeks=weeks)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"minutes": 5}, "minutes a day"),
        ({"test_putts": 5}, "A test of 5 putts"),
        ({"lengths_m": ()}, "at least one length"),
        ({"lengths_m": (float("nan"),)}, "outside 0 to 40 m"),
        ({"dates": (None, None)}, "2 sessions"),
    ],
)
def test_plans_that_make_no_sense(changes: dict[str, object], message: str) -> None:
    with pytest.raises(SettingsError, match=message):
        _plan(**changes)


def test_transfer_lengths_are_new() -> None:
    assert transfer_lengths((4.0, 9.0)) == (6.0,)
    assert transfer_lengths((4.0,)) == (6.0,)
