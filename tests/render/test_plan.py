"""A practice plan as page, PDF and calendar; the calendar is read back by a library."""

from __future__ import annotations

import datetime
import io
import re

import pypdfium2
import pytest
from icalendar import Calendar

from pacewright.core.errors import SettingsError
from pacewright.core.plan import PlanBlock, PlanChoice, PlanSession, PracticePlan
from pacewright.render.calendar import plan_calendar
from pacewright.render.plan import plan_html, plan_pdf
from pacewright.render.plan_page import STRENGTH_WORDS, plan_page

MADE = datetime.datetime(2026, 3, 1, 8, 30, tzinfo=datetime.UTC)
FIVE = datetime.time(17, 0)


def _block(title: str, task: str = "Putt; then the next, \\ or not") -> PlanBlock:
    return PlanBlock(title, task, (3.048, 6.096), 12, "mixed", "on", True, "Guess first.", True)


def _plan(player: str = "Ann Example", dated: bool = True) -> PracticePlan:
    first = datetime.date(2026, 3, 2)
    sessions = tuple(
        PlanSession(
            number=k + 1,
            kind=("first test", "practice", "retention test")[k],
            date=first + datetime.timedelta(days=7 * k) if dated else None,
            minutes=35 + k,
            aim="Find it.",
            blocks=(_block("Runs"), _block("Mixed")),
        )
        for k in range(3)
    )
    return PracticePlan(
        player=player,
        focus="length",
        aim="A smaller spread.",
        beats_per_minute=88.0,
        lengths_m=(3.048, 6.096),
        station=None,
        sessions=sessions,
        choices=(
            PlanChoice("Beat", "88 a minute.", "It was found.", "weak", "Czyż et al. 2024"),
            PlanChoice("Order", "Mixed.", "So it is.", "mixed", "Some <b>source</b>"),
        ),
        stop_rules=("Pain: stop at once, for the day.",),
        cautions=("Take the breaks.",),
    )


def _events(plan: PracticePlan) -> list[dict[str, object]]:
    calendar = Calendar.from_ical(plan_calendar(plan, FIVE, "metric", MADE))
    return [{key: event.decoded(key) for key in event} for event in calendar.walk("VEVENT")]


def test_the_calendar_is_read_back_with_every_session_at_its_time() -> None:
    plan = _plan()
    events = _events(plan)
    assert len(events) == 3
    for event, session in zip(events, plan.sessions, strict=True):
        assert session.date is not None
        # No time zone: five o'clock wherever the player is.
        assert event["DTSTART"] == datetime.datetime.combine(session.date, FIVE)
        assert event["DURATION"] == datetime.timedelta(minutes=session.minutes)
        assert event["DTSTAMP"] == MADE
        assert str(session.number) in str(event["SUMMARY"])


def test_the_text_of_an_event_comes_through_commas_semicolons_and_backslashes() -> None:
    (event, *_) = Calendar.from_ical(plan_calendar(_plan(), FIVE, "metric", MADE)).walk("VEVENT")
    text = str(event["DESCRIPTION"])
    assert "Putt; then the next, \\ or not" in text
    assert "Pain: stop at once, for the day." in text
    assert "12 putts at 3.05 m, 6.1 m, mixed" in text


def test_the_file_keeps_to_the_lines_of_the_standard() -> None:
    """RFC 5545, 3.1: lines end in CR LF and are at most 75 octets long."""
    data = plan_calendar(_plan("Zoë Müller-Åkesson"), FIVE, "metric", MADE)
    assert data.endswith(b"END:VCALENDAR\r\n")
    lines = data.split(b"\r\n")
    assert max(len(line) for line in lines) <= 75
    assert b"\n" not in b"".join(lines)
    for needed in (
        b"VERSION:2.0",
        b"PRODID:",
        b"UID:",
        b"DTSTAMP:20260301T083000Z",
        b"DTSTART:20260302T170000",
    ):
        assert needed in data


def test_the_same_plan_keeps_its_events_and_another_has_its_own() -> None:
    first, again, other = ([e["UID"] for e in _events(plan)] for plan in (_plan(), _plan(), _plan("Bob")))
    assert first == again
    assert len(set(first)) == 3
    assert not set(first) & set(other)


def test_a_calendar_needs_days() -> None:
    with pytest.raises(SettingsError, match="needs days"):
        plan_calendar(_plan(dated=False), FIVE, "metric", MADE)


def test_the_page_holds_every_word_of_the_plan_and_nothing_from_outside() -> None:
    plan = _plan()
    html = plan_html(plan, "metric")
    for part in (
        "Ann Example",
        "A smaller spread.",
        "Monday 2 March 2026",
        "Czyż et al. 2024",
        "Take the breaks.",
    ):
        assert part in html
    assert "&lt;b&gt;source&lt;/b&gt;" in html
    assert STRENGTH_WORDS["mixed"] in html
    assert not re.search(r"(src|href)=\"(?!data:)", html)
    assert "default-src 'none'" in html


def test_the_pdf_holds_the_plan_and_is_the_same_each_time() -> None:
    pdf = plan_pdf(_plan(), "imperial", "letter")
    assert pdf == plan_pdf(_plan(), "imperial", "letter")
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    text = " ".join(page.get_textpage().get_text_range() for page in document)
    words = " ".join(text.split())
    for part in ("Ann Example", "10 ft", "Monday 2 March 2026", "Czyż", "Take the breaks.", "1. First test"):
        assert part in words
    assert document[0].get_size() == pytest.approx((612.0, 792.0), abs=0.5)


def test_days_without_dates_are_told_apart_by_number() -> None:
    page = plan_page(_plan(dated=False), "metric")
    assert [day["date"] for day in page["sessions"]] == ["", "", ""]
    assert "on different days" in page["facts"][2]["text"]
    assert "3. Retention test" in plan_html(_plan(dated=False), "metric")
