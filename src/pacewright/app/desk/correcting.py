"""An event moved by hand: the stroke is measured again and a new analysis takes the place of the old one."""

from __future__ import annotations

from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk.context import Context
from pacewright.app.desk.views import EventName
from pacewright.records import schema


def correct_event(
    context: Context, transaction: Transaction, row: schema.Stroke, event: EventName, time_s: float
) -> schema.Stroke:
    """Move an event of a stroke and write the analysis that follows; returns the stroke that stands now."""
    raise NotImplementedError
