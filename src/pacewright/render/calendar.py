"""A practice plan as a calendar file (RFC 5545): one event a session, at the local time of its reader."""

from __future__ import annotations

import datetime
import uuid
from typing import TYPE_CHECKING

from pacewright.core.display import Units
from pacewright.core.errors import SettingsError
from pacewright.core.plan import PlanSession, PracticePlan
from pacewright.render.plan_page import plan_page, session_page

if TYPE_CHECKING:
    from icalendar import Event

PRODUCT = "-//Pacewright//Practice plan 1//EN"
_NAMESPACE = uuid.UUID("6f0d4c9e-3f57-5c0b-9d7e-2a1b8c4e5f60")


def plan_calendar(plan: PracticePlan, at: datetime.time, units: Units, made: datetime.datetime) -> bytes:
    """The sessions as events that start at ``at``, no time zone attached; ``made`` stamps the file.

    The same plan keeps the identifiers of its events, so that reading it again moves nothing.
    Raises SettingsError when the sessions have no dates.
    """
    from icalendar import Calendar

    if any(session.date is None for session in plan.sessions):
        raise SettingsError("A calendar needs days; name them, such as --days mon,thu.")
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", _name(plan))
    for session in plan.sessions:
        calendar.add_component(_event(plan, session, at, units, made))
    return bytes(calendar.to_ical())


def _name(plan: PracticePlan) -> str:
    return f"Putting practice, {plan.player}" if plan.player else "Putting practice"


def _event(
    plan: PracticePlan, session: PlanSession, at: datetime.time, units: Units, made: datetime.datetime
) -> Event:
    from icalendar import Event

    assert session.date is not None
    event = Event()
    event.add("uid", f"{_identifier(plan, session)}@pacewright")
    event.add("dtstamp", made.astimezone(datetime.UTC))
    event.add("dtstart", datetime.datetime.combine(session.date, at))
    event.add("duration", datetime.timedelta(minutes=session.minutes))
    event.add("summary", f"Putting {session.number} of {len(plan.sessions)}: {session.kind}")
    event.add("description", _description(plan, session, units))
    return event


def _identifier(plan: PracticePlan, session: PlanSession) -> uuid.UUID:
    first = plan.sessions[0].date
    return uuid.uuid5(_NAMESPACE, f"{plan.player}|{first}|{len(plan.sessions)}|{session.number}")


def _description(plan: PracticePlan, session: PlanSession, units: Units) -> str:
    page = session_page(session, units)
    lines = [page["aim"], page["size"], ""]
    for block in page["blocks"]:
        lines += [
            f"{block['title']}: {block['putts']} putts at {block['lengths']}; {block['aids']}.",
            " ".join(part for part in (block["task"], block["feedback"], block["note"]) if part),
            "",
        ]
    markers = plan_page(plan, units)["markers"]
    if markers is not None and any(block.markers for block in session.blocks):
        lines += [f"{putt}: back {back}, through {through}" for putt, back, through in markers["rows"]]
        lines.append("")
    lines.append(plan.stop_rules[0])
    return "\n".join(lines)
