"""The words and tables of a practice plan, once for page, PDF and calendar."""

from __future__ import annotations

import datetime
from typing import Any

from pacewright.core.display import (
    Units,
    format_figure,
    format_putt_length,
    format_putt_length_both,
)
from pacewright.core.plan import BeatUse, PlanBlock, PlanChoice, PlanSession, PracticePlan, Strength
from pacewright.core.station import PuttStation

Page = dict[str, Any]

STRENGTH_WORDS: dict[Strength, str] = {
    "fair": "a study supports it",
    "mixed": "studies disagree",
    "weak": "a study comes near it",
    "derived": "follows from figures",
    "custom": "custom of the trade",
    "our choice": "our choice",
}
BEAT_WORDS: dict[BeatUse, str] = {"on": "beat on", "every other putt": "beat every other putt", "off": ""}


def plan_page(plan: PracticePlan, units: Units) -> Page:
    """The whole plan as nested dicts and lists of text."""
    return {
        "title": "Practice plan",
        "player": plan.player,
        "aim": plan.aim,
        "facts": _facts(plan, units),
        "markers": None if plan.station is None else _markers(plan, units),
        "sessions": [session_page(session, units) for session in plan.sessions],
        "choices": [_choice(choice) for choice in plan.choices],
        "stop_rules": list(plan.stop_rules),
        "cautions": list(plan.cautions),
    }


def session_page(session: PlanSession, units: Units) -> Page:
    """One day: when, how long, and its blocks."""
    return {
        "number": session.number,
        "name": f"{session.number}. {session.kind.capitalize()}",
        "date": "" if session.date is None else day_words(session.date),
        "day": "" if session.date is None else f"{session.date:%a} {session.date.day} {session.date:%b}",
        "date_iso": "" if session.date is None else session.date.isoformat(),
        "size": f"{session.putts} putts, about {session.minutes} min",
        "aim": session.aim,
        "blocks": [_block(block, units) for block in session.blocks],
    }


def day_words(date: datetime.date) -> str:
    """``Monday 2 March 2026``."""
    return f"{date:%A} {date.day} {date:%B %Y}"


def _facts(plan: PracticePlan, units: Units) -> list[Page]:
    dates = [session.date for session in plan.sessions if session.date is not None]
    days = f"{len(plan.sessions)}, on different days"
    if dates:
        days = f"{len(plan.sessions)}, from {day_words(dates[0])} to {day_words(dates[-1])}"
    lengths = ", ".join(format_putt_length_both(length, units) for length in plan.lengths_m)
    return [
        {"name": "Lengths", "text": lengths},
        {"name": "Beat", "text": f"{plan.beats_per_minute:g} a minute"},
        {"name": "Sessions", "text": days},
    ]


def _markers(plan: PracticePlan, units: Units) -> Page:
    assert plan.station is not None
    warnings = [remark.text for remark in plan.station.warnings]
    warnings += [remark.text for putt in plan.station.stations for remark in putt.warnings]
    return {
        "head": ["Putt", "Back marker", "Through marker"],
        "rows": [_marker_row(putt, units) for putt in plan.station.stations],
        "note": "Measured from the back of the ball. Start moving on one, back marker on two, through marker "
        f"on three. {plan.station.constant_source[0].upper()}{plan.station.constant_source[1:]}.",
        "warnings": list(dict.fromkeys(warnings)),
    }


def _marker_row(putt: PuttStation, units: Units) -> list[str]:
    return [
        format_putt_length_both(putt.putt_length_m, units),
        format_figure(putt.back_marker_m, "stroke_length", units).plain,
        format_figure(putt.through_marker_m, "stroke_length", units).plain,
    ]


def _block(block: PlanBlock, units: Units) -> Page:
    lengths = ", ".join(format_putt_length(length, units) for length in block.lengths_m)
    aids = [word for word in (BEAT_WORDS[block.beat], "markers" if block.markers else "") if word]
    return {
        "title": block.title,
        "putts": str(block.putts),
        "lengths": f"{lengths}, {block.order}",
        "aids": ", ".join(aids) or "no beat, no markers",
        "task": block.task,
        "feedback": block.feedback,
        "note": "Note every putt." if block.is_recorded else "",
    }


def _choice(choice: PlanChoice) -> Page:
    return {
        "topic": choice.topic,
        "choice": choice.choice,
        "reason": choice.reason,
        "strength": STRENGTH_WORDS[choice.strength],
        "source": choice.source,
    }
