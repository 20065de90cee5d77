"""The tables. `TABLES` lists every row class, those that others point to first."""

from __future__ import annotations

from pacewright.records.schema.base import Row, index_of_deleted
from pacewright.records.schema.machinery import Digest, Job, JournalEntry, MeasuredStroke, Setting, UndoStep
from pacewright.records.schema.people import Consent, Guardian, Login, Player, User
from pacewright.records.schema.places import Green, GreenReading, Putter, Session
from pacewright.records.schema.practice import DrillResult, Plan, Putt, ShareToken, Station, TempoBlock
from pacewright.records.schema.recordings import (
    Analysis,
    Correction,
    Curve,
    Finding,
    Recording,
    Stroke,
    Track,
    Upload,
)

TABLES: tuple[type[Row], ...] = (
    Setting, UndoStep, Player, Guardian, Consent, User, Login, Putter, Green, GreenReading, Session, Upload,
    Recording, Analysis, Track, Stroke, Curve, Finding, Correction, Plan, Station, TempoBlock, Putt,
    DrillResult, ShareToken, Digest, Job, MeasuredStroke, JournalEntry,
)  # fmt: skip
OF_A_PLAYER: tuple[type[Row], ...] = tuple(
    table for table in TABLES if table is Player or "player_id" in table.__table__.columns
)
"""What belongs to one player, those that others point to first; `Player` itself leads."""
DELETABLE: tuple[type[Row], ...] = tuple(
    table for table in TABLES if "deleted_step" in table.__table__.columns
)
"""What can be deleted by hand and brought back."""
for _table in DELETABLE:
    index_of_deleted(_table)

__all__ = [
    "DELETABLE", "OF_A_PLAYER", "TABLES", "Analysis", "Consent", "Correction", "Curve", "Digest",
    "DrillResult", "Finding", "Green", "GreenReading", "Guardian", "Job", "JournalEntry", "Login",
    "MeasuredStroke", "Plan", "Player", "Putt", "Putter", "Recording", "Row", "Session", "Setting",
    "ShareToken", "Station", "Stroke", "TempoBlock", "Track", "UndoStep", "Upload", "User",
]  # fmt: skip
